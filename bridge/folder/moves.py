"""moves.csv: the freight moves.

Rule: a row is read by itself here; whether it can be worked is asked where plan and plant are held against each other.
"""

from __future__ import annotations

from collections.abc import Collection

from bridge.core.plan import Move
from bridge.folder.columns import Columns, Row
from bridge.folder.places import Places, one_of

REQUIRED = ("vehicle", "from", "to")
Known = Collection[str] | None


def read_moves(sheet: Columns, places: Places, stock: Known, workings: Known) -> tuple[Move, ...]:
    """Every move in the order of the file. `stock` or `workings` are None where they could not be read: then any will do."""
    places.moves_read = True
    found: list[Move] = []
    for row in sheet.rows:
        move = _move(row, len(found), places, stock, workings)
        if move is None:
            places.doubtful.add(("vehicle", row.text("vehicle")))
            continue
        for column in ("vehicle", "from", "to", "working", "call"):
            places.spots[f"move.{column}", move.index] = row.at(column)
        found.append(move)
    return tuple(found)


def _move(row: Row, index: int, places: Places, stock: Known, workings: Known) -> Move | None:
    """One row; None where it cannot be used, which has been told."""
    findings = places.findings
    vehicle = row.required("vehicle", findings)
    start, end = (_road(row, column, places) for column in ("from", "to"))
    working = row.text("working") or None
    call = row.whole("call", findings)
    usable = bool(vehicle) and start is not None and end is not None
    if vehicle and stock is not None:
        usable &= one_of(vehicle, row.at("vehicle"), stock, "vehicle", findings) is not None
    if working is not None and workings is not None:
        usable &= one_of(working, row.at("working"), workings, "working", findings) is not None
    if start is not None and start == end:
        message = f"This move ends where it begins, on {start}."
        findings.fault(row.at("to"), message, "Correct one of the two, or take the row out.")
        return None
    if not usable or start is None or end is None:
        return None
    return Move(index, vehicle, start, end, working, call, row.text("load"), row.text("notes"))


def _road(row: Row, column: str, places: Places) -> str | None:
    word = row.required(column, places.findings)
    return places.place(word, row.at(column), "road") if word else None
