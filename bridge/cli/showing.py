"""What a demonstration says on the terminal: the evening as it goes, and an account of it at the end.

Rule: what the page shows is not said twice; here stands what somebody would look up for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from bridge.audit.names import Names
from bridge.audit.sentences import sentence
from bridge.core.plan import Railway
from bridge.virtual.verdict import Found, held_against

TOLD = ("departed", "arrived", "irregularity", "session")

Row = Mapping[str, Any]


class Account:
    """Hears every outcome, and tells the ones to be told."""

    def __init__(self, railway: Railway) -> None:
        self._names = Names(railway)
        self._rows: list[Row] = []
        self._told: set[str] = set()

    def hear(self, row: Row) -> None:
        """Take an outcome; print it where it belongs on a terminal, an irregularity when it is first said."""
        self._rows.append(row)
        if row["says"] not in TOLD:
            return
        level = ""
        if row["says"] == "irregularity":
            if row["id"] in self._told:
                return
            self._told.add(row["id"])
            level = f"{row['level']}: "
        print(f"{row['clock'] or '--:--:--'}  {level}{sentence(row, self._names)}", flush=True)

    def summary(self) -> str:
        """How much was said."""
        moves = {(row["vehicle"], row["from"], row["to"]): row["state"] for row in self._rows if row["says"] == "move"}
        done = sum(state == "done" for state in moves.values())
        found = len(self._told)
        said = f"{found} irregularit{'y' if found == 1 else 'ies'} said" if found else "No irregularity said"
        return f"{said}; {done} of {len(moves)} booked moves known to be done."

    def held_against(self, truth: str, shift_s: float) -> str:
        """What was said, held against the text of a truth file; `shift_s` from the truth's seconds to the host's."""
        verdict = held_against(json.loads(truth), self._rows, shift_s)
        lines = ["Held against what really happened:"]
        lines += [f"  planted: {_found(found)}" for found in verdict.expected] or ["  nothing had been planted"]
        lines += [f"  said besides: {row['kind']}, at {row['clock']}" for row in verdict.besides]
        lines += [
            f"  {vehicle} stands on {place}, and is said to be on {said}"
            for vehicle, (place, said) in verdict.misplaced.items()
        ]
        right = verdict.vehicles - len(verdict.misplaced)
        return "\n".join([*lines, f"  {right} of {verdict.vehicles} vehicles are where they are said to be"])


def _found(found: Found) -> str:
    what = f"{found.kind} ({', '.join(f'{key} {value}' for key, value in found.subject.items())})"
    if found.after_due_s is None:
        return f"{what}: not said"
    if found.is_in_time:
        return f"{what}: said in time"
    return f"{what}: said {found.after_due_s:.0f} s late"
