"""What would be written down after a session, for somebody to look at before it is: where everything stands with what is
uncertain first, what would change, the rows themselves, and what the reading of the folder says of them.

Rule: the offer bears a token of all that it shows. Who agrees names the token, and so agrees to nothing that has not been
shown.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from bridge.core.operator.word_values import Stands
from bridge.core.plan import Railway
from bridge.core.wagons.moves import PLAIN
from bridge.folder.finding import Finding
from bridge.folder.handover.changes import GONE, changes
from bridge.folder.handover.moves import left_over
from bridge.folder.handover.standing import Standings, settled, stands_of
from bridge.folder.handover.whereabouts import whereabouts_csv
from bridge.folder.reading import FolderRead, load, read
from bridge.folder.whereabouts import OFF

WHEREABOUTS, MOVES, NEXT = "whereabouts.csv", "moves.csv", "moves next.csv"
TOKEN_LENGTH = 12
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Ended:
    """A session that has ended: its number, the files that were in force, its closing snapshot, and what has been told by
    eye since."""

    session: int
    texts: Mapping[str, bytes]
    view: Mapping[str, Any]
    told: Sequence[Stands] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """What is shown, and what would be written: `whereabouts` and, where a move is left, `moves`.

    `found` is whereabouts.csv as it is on the disk (None: there is none), `has_moves` whether these moves stand beside it
    already. `why_not` says why nothing can be written, with the remedy; None where it can. `vehicles`, `left` and `findings`
    are JSON-ready.
    """

    session: int
    found: bytes | None
    whereabouts: bytes
    moves: bytes
    vehicles: tuple[Row, ...]
    left: tuple[Row, ...]
    findings: tuple[Row, ...]
    has_moves: bool
    why_not: str | None

    @property
    def token(self) -> str:
        """A hash of everything that is shown and of the file that it would replace."""
        shown = [self.session, self.found, self.whereabouts, self.moves, self.vehicles, self.left, self.findings]
        text = json.dumps(shown, sort_keys=True, default=lambda value: value.decode("utf-8", "replace"))
        return hashlib.sha256(text.encode()).hexdigest()[:TOKEN_LENGTH]

    @property
    def is_written(self) -> bool:
        """Whether all this stands in the folder already."""
        return self.found == self.whereabouts and (self.has_moves or not self.moves)

    def as_dict(self) -> dict[str, Any]:
        """The offer as pages and commands show it."""
        return {
            "session": self.session,
            "token": None if self.why_not else self.token,
            "text": self.why_not or "",
            "written": self.is_written,
            "vehicles": list(self.vehicles),
            "moves": list(self.left),
            "findings": list(self.findings),
            "rows": {WHEREABOUTS: _shown(self.whereabouts), **({NEXT: _shown(self.moves)} if self.moves else {})},
        }


def offered(folder: Path, ended: Ended) -> Offer:
    """What there is to write down in a folder after a session. Never raises for what is on the disk."""
    now = load(folder)
    found = now.texts.get(WHEREABOUTS)
    railway = read(ended.texts).railway
    assert railway is not None, "a session runs under a folder without faults"
    closing = stands_of(ended.view["vehicles"])
    stages = [settled(closing, ended.told[:n], railway.plant) for n in range(len(ended.told) + 1)]
    ours = [whereabouts_csv(ended.texts, stage) for stage in stages]
    why_not = _why_not(ended, now, folder, ours)
    standing, new = stages[-1], ours[-1]
    workings = now.railway.workings if now.railway is not None else {}
    moves, left = left_over(ended.texts, ended.view, standing, railway.plant, workings)
    again = read({**now.texts, WHEREABOUTS: new})
    findings = [] if why_not else _findings(now, again, moves)
    fault = next((f for f in findings if f["level"] == "fault"), None)
    if fault is not None:
        why_not = f"What would be written could not be read again: {fault['message']} {fault['remedy']}"
    vehicles = _vehicles(now.railway, again.railway, standing, ended.view["vehicles"])
    rows = tuple(asdict(row) for row in left)
    has_moves = any(_reads(path, moves) for path in folder.glob(f"{Path(NEXT).stem}*.csv")) if moves else False
    return Offer(ended.session, found, new, moves, vehicles, rows, tuple(findings), has_moves, why_not)


def _reads(path: Path, content: bytes) -> bool:
    try:
        return path.read_bytes() == content
    except OSError:
        return False


def _why_not(ended: Ended, now: FolderRead, folder: Path, ours: Sequence[bytes]) -> str | None:
    """Why nothing can be written: the folder cannot be read, or somebody else has written what would be replaced."""
    fault = next((finding for finding in now.findings if finding.level == "fault"), None)
    if fault is not None:
        return f"{folder / fault.file} line {fault.line}: {fault.message} {fault.remedy} Nothing is written until then."
    found = now.texts.get(WHEREABOUTS)
    if found not in (ended.texts.get(WHEREABOUTS), *ours):
        return (
            f"{folder / WHEREABOUTS} has changed since session {ended.session} read it, so nothing is written over it. Put "
            "back the file that the session had, or start Numbertaker again to go on with this one."
        )
    return None


def _findings(now: FolderRead, again: FolderRead, moves: bytes) -> list[Row]:
    """What `check` says of the new whereabouts, and of the moves for next time in place of the present ones."""
    known = {(f.level, f.file, f.message) for f in now.findings}
    rows = [_finding(f, f.file, (f.level, f.file, f.message) not in known) for f in again.findings]
    if moves:
        for_next = read({**again.texts, MOVES: moves})
        rows += [_finding(f, NEXT, True) for f in for_next.findings if f.file == MOVES]
    return rows


def _finding(finding: Finding, file: str, is_new: bool) -> Row:
    return {**finding.as_dict(), "file": file, "new": is_new}


def _vehicles(
    before: Railway | None, after: Railway | None, standing: Standings, shown: Mapping[str, Row]
) -> tuple[Row, ...]:
    """Every vehicle that stands or stood: those to look at first, the least sure of them foremost."""
    was = {row.vehicle: row for row in (before.standing if before is not None else ())}
    now = after.standing if after is not None else ()
    told = changes(was.values(), now)
    rows = []
    for vehicle, stand in standing.items():
        old = was.get(vehicle)
        if stand.place == OFF and old is None:
            continue
        row = {
            "vehicle": vehicle,
            "painted": shown[vehicle]["painted"],
            "place": stand.place,
            "order": stand.order or None,
            "sure": round(stand.sure, 3),
            "by": stand.by,
            "look": stand.sure < PLAIN,
            "change": told.get(vehicle),
            "was": old.place if old is not None and told.get(vehicle) else None,
        }
        rows.append(row)
    gone = [v for v in told if told[v] == GONE and v not in standing]
    rows += [_stranger(vehicle, was[vehicle].place) for vehicle in gone]
    return tuple(sorted(rows, key=lambda row: (not row["look"], row["sure"] if row["look"] else 1.0)))


def _stranger(vehicle: str, place: str) -> dict[str, Any]:
    """One that the session did not know and the file has by now."""
    known = {"vehicle": vehicle, "painted": "", "place": OFF, "order": None, "sure": 1.0, "by": "assumed", "look": False}
    return {**known, "change": GONE, "was": place}


def _shown(content: bytes) -> str:
    return content.decode("utf-8-sig").replace("\r\n", "\n")
