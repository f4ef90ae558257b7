"""moves.csv: the freight moves.

Rule: a row is read by itself here; whether it can be worked is asked where plan and plant are held against each other.
"""

from __future__ import annotations

from collections.abc import Collection

from bridge.core.plan import Move
from bridge.folder.columns import Columns
from bridge.folder.places import Places, one_of

REQUIRED = ("vehicle", "from", "to")


def read_moves(
    sheet: Columns, places: Places, stock: Collection[str] | None, workings: Collection[str] | None
) -> tuple[Move, ...]:
    """Every move in the order of the file. `stock` or `workings` are None where they could not be read: then any will do."""
    findings = places.findings
    found: list[Move] = []
    for row in sheet.rows:
        vehicle = row.required("vehicle", findings)
        ends = [row.required(column, findings) for column in ("from", "to")]
        roads = [
            places.place(word, row.at(column), "road") if word else None
            for word, column in zip(ends, ("from", "to"), strict=True)
        ]
        working = row.text("working") or None
        call = row.whole("call", findings)
        if vehicle and stock is not None and one_of(vehicle, row.at("vehicle"), stock, "vehicle", findings) is None:
            vehicle = ""
        if (
            working is not None
            and workings is not None
            and one_of(working, row.at("working"), workings, "working", findings) is None
        ):
            continue
        if roads[0] is not None and roads[0] == roads[1]:
            findings.fault(
                row.at("to"),
                f"This move ends where it begins, on {roads[0]}.",
                "Correct one of the two, or take the row out.",
            )
            continue
        if not vehicle or roads[0] is None or roads[1] is None:
            continue
        index = len(found)
        for column in ("vehicle", "from", "to", "working", "call"):
            places.spots[f"move.{column}", index] = row.at(column)
        found.append(Move(index, vehicle, roads[0], roads[1], working, call, row.text("load"), row.text("notes")))
    return tuple(found)
