"""whereabouts.csv: where each vehicle stands now.

Rule: on one place orders count from 1 without gaps; where the file leaves them empty its own order counts. A vehicle stands
in one place: a second row for it is a conflict.
"""

from __future__ import annotations

from bridge.core.plan import Standing
from bridge.folder.columns import Columns, Row
from bridge.folder.finding import Spot
from bridge.folder.places import Places, one_of

REQUIRED = ("vehicle", "road")
OFF = "off"


def read_whereabouts(sheet: Columns, places: Places, stock: set[str] | None) -> tuple[Standing, ...]:
    """Where vehicles stand, place by place. `stock` is None where the stock could not be read: then any vehicle will do."""
    findings = places.findings
    places.whereabouts_read = True
    rows: list[tuple[str, str, int | None]] = []
    taken: dict[tuple[str, int], Spot] = {}
    for row in sheet.rows:
        vehicle, where = _vehicle(row, places, stock), _place(row, places)
        order = row.whole("order", findings)
        if vehicle is None or where is None:
            places.doubtful.add(("vehicle", row.text("vehicle")))
            continue
        earlier = places.spots.setdefault(("standing", vehicle), row.at("vehicle"))
        if earlier is not row.at("vehicle"):
            message = f"Vehicle {vehicle} stands already in line {earlier.line}: it cannot stand in two places."
            findings.conflict(row.at("vehicle"), message, "Take out the row that is not true.")
        elif where != OFF:
            _order_taken(row, where, order, taken, places)
            rows.append((vehicle, where, order))
    return _in_order(rows)


def _vehicle(row: Row, places: Places, stock: set[str] | None) -> str | None:
    word = row.required("vehicle", places.findings)
    if stock is None or not word:
        return word or None
    return one_of(word, row.at("vehicle"), stock, "vehicle", places.findings)


def _place(row: Row, places: Places) -> str | None:
    word = row.required("road", places.findings)
    if not word or word == OFF:
        return word or None
    return places.place(word, row.at("road"), "road", "throat", "section")


def _order_taken(row: Row, where: str, order: int | None, taken: dict[tuple[str, int], Spot], places: Places) -> None:
    if order is None:
        return
    before = taken.setdefault((where, order), row.at("order"))
    if before is not row.at("order"):
        message = f"Place {order} on {where} is taken already, in line {before.line}."
        places.findings.conflict(row.at("order"), message, "Give each vehicle there its own order, 1 nearest the up end.")


def _in_order(rows: list[tuple[str, str, int | None]]) -> tuple[Standing, ...]:
    by_place: dict[str, list[tuple[int, str]]] = {}
    for vehicle, place, order in rows:
        standing = by_place.setdefault(place, [])
        behind = standing[-1][0] if standing else 0
        standing.append((behind if order is None else order, vehicle))
    found: list[Standing] = []
    for place, standing in by_place.items():
        ordered = sorted(standing, key=lambda pair: pair[0])
        found.extend(Standing(vehicle, place, n) for n, (_, vehicle) in enumerate(ordered, 1))
    return tuple(found)
