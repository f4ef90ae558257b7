"""The moves that a session has left undone, as a moves.csv for next time.

Rule: no undone row is lost but the one whose vehicle stands already where it is booked to. A row begins where its vehicle
really stands, or will once the rows before it are done; where that is no road it stays as it was, and that is told.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.core.plant import Plant
from bridge.folder.handover.rows import Cells, Paper, paper
from bridge.folder.handover.standing import Standings
from bridge.folder.whereabouts import OFF

COLUMNS = ("vehicle", "from", "to", "working", "call", "load", "notes")
DONE, FAILED, TO_COME = "done", "failed", "to-come"


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A move for next time. `line`: its row in the old file, from 1; `note`: why it still starts where it was booked."""

    line: int
    vehicle: str
    start: str
    end: str
    working: str
    call: str
    load: str
    note: str


def left_over(
    texts: Mapping[str, bytes],
    ended_with: Mapping[str, Any],
    standing: Standings,
    plant: Plant,
    workings: Collection[str],
) -> tuple[bytes, tuple[LeftOver, ...]]:
    """The file for next time, and what it holds; nothing where no move is left.

    `texts` are the files that the session had, `ended_with` its closing snapshot, `workings` those booked next time.
    """
    old = paper("moves", texts, COLUMNS)
    rows: list[Cells] = []
    found: list[LeftOver] = []
    at = {vehicle: stand.place for vehicle, stand in standing.items()}
    going_on = {t["id"] for t in ended_with["trains"] if any(call["state"] == TO_COME for call in t["calls"])}
    for line, (row, move) in enumerate(zip(old.rows, ended_with["moves"], strict=True), 1):
        if move["state"] == DONE or at.get(move["vehicle"], OFF) == move["to"]:
            continue
        keeps_working = move["state"] != FAILED and move["working"] in going_on and move["working"] in workings
        left = _left(old, row, line, move, at.get(move["vehicle"], OFF), keeps_working, plant)
        at[move["vehicle"]] = move["to"]
        changes = {"from": left.start, "working": left.working, "call": left.call}
        rows.append(old.filled(row, changes))
        found.append(left)
    return (old.written(rows) if rows else b""), tuple(found)


def _left(
    old: Paper, row: Sequence[str], line: int, move: Mapping[str, Any], place: str, keeps_working: bool, plant: Plant
) -> LeftOver:
    note = ""
    if place == OFF:
        note = f"{move['vehicle']} is off the layout: put it back before this is worked."
    elif place not in plant.roads:
        note = f"{move['vehicle']} stands on {place}, which is no road: say in the row where it is to be lifted."
    start = move["from"] if note else place
    working, call = (old.text(row, column) if keeps_working else "" for column in ("working", "call"))
    return LeftOver(line, move["vehicle"], start, move["to"], working, call, old.text(row, "load"), note)
