"""The papers of a session: every file that `numbertaker audit` writes, as name and text.

Rule: pure. The same railway, outcomes and journal make the same papers, byte for byte.
"""

from __future__ import annotations

from bridge.audit.account import Account
from bridge.audit.eventlog import ocel, xes
from bridge.audit.report import report_html
from bridge.audit.tables import moves_csv, register_csv, whereabouts_csv
from bridge.core.learned import LEARNED


def papers(account: Account) -> dict[str, str]:
    """File names and their texts."""
    return {
        "report.html": report_html(account),
        "register.csv": register_csv(account),
        "moves.csv": moves_csv(account),
        "whereabouts.csv": whereabouts_csv(account),
        "session.capture": capture(account),
        "session.xes": xes(account),
        "session.ocel.json": ocel(account),
    }


def capture(account: Account) -> str:
    """The journal as a capture, which replays to the same register."""
    plant = account.railway.plant
    title = " ".join((plant.name or plant.id).split()) + (f", {account.day.isoformat()}" if account.day else "")
    known = () if account.known is None else (f"{LEARNED}{account.known.as_text()}",)
    return "".join(f"{line}\n" for line in (f"# {title}", *known, *account.lines.values()))
