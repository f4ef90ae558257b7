"""stock.csv: the vehicles and their tags.

Rule: a row with a fault still enters its vehicle, so that what refers to it is not told as missing.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.plan import Vehicle
from bridge.folder.columns import Columns, Row
from bridge.folder.fields import tell_bad_id
from bridge.folder.finding import did_you_mean
from bridge.folder.places import Places
from bridge.folder.plant_tables import tag_of

KINDS = ("engine", "wagon", "brake", "coach")
REQUIRED = ("vehicle", "kind", "length")


def read_stock(sheet: Columns, places: Places) -> Mapping[str, Vehicle]:
    """Every vehicle by id, in the order of the file."""
    found: dict[str, Vehicle] = {}
    for row in sheet.rows:
        vehicle = _vehicle(row, places, sheet.decimal_comma)
        if vehicle.id and places.first(row.at("vehicle"), "vehicle", vehicle.id):
            found[vehicle.id] = vehicle
    return found


def _vehicle(row: Row, places: Places, decimal_comma: bool) -> Vehicle:
    findings = places.findings
    name = row.required("vehicle", findings)
    if name:
        tell_bad_id(name, row.at("vehicle"), findings)
    kind = row.required("kind", findings)
    if kind and kind not in KINDS:
        findings.fault(
            row.at("kind"),
            f'"{kind}" is no kind of vehicle.',
            did_you_mean(kind, KINDS, f"Write one of: {', '.join(KINDS)}."),
        )
    row.required("length", findings)
    length = row.number("length", findings, decimal_comma)
    home = row.text("home")
    return Vehicle(
        id=name,
        kind=kind,
        length_mm=length or 1.0,
        tags=_tags(row, places),
        detected=row.flag("detected", True, findings),
        tail=row.flag("tail", kind == "brake", findings),
        klass=row.text("class"),
        painted=row.text("painted"),
        home=places.place(home, row.at("home"), "road") if home else None,
        notes=row.text("notes"),
    )


def _tags(row: Row, places: Places) -> tuple[str, ...]:
    found: list[str] = []
    for word, spot in row.words("tags"):
        tag = tag_of(word, spot, places.findings)
        if tag is not None and places.first(spot, "tag", tag):
            found.append(tag)
    return tuple(found)
