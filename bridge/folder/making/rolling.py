"""The vehicles of a sketch, and where they stand.

Rule: what stands on a road fits on it; a tag belongs to one vehicle.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from bridge.core.plan import Standing, Vehicle
from bridge.folder.making.ids import Ids
from bridge.folder.making.sketch import Sketch, VehicleSketch
from bridge.folder.making.track import Track
from bridge.folder.making.wrongs import Wrongs
from bridge.folder.plant_tables import TAG
from bridge.folder.stock import KINDS

EXAMPLE_TAG = "04A1003B68"


@dataclass
class Rolling:
    """Vehicles by id, and where each stands."""

    stock: dict[str, Vehicle] = field(default_factory=dict)
    standing: list[Standing] = field(default_factory=list)


def counted(sketch: Sketch, track: Track, wrongs: Wrongs) -> Rolling:
    """The vehicles of a sketch, as far as they can be read."""
    rolling, ids = Rolling(), Ids("vehicle")
    owners: dict[str, str] = {}
    taken_mm: dict[str, float] = {}
    for n, vehicle in enumerate(sketch.vehicles):
        where = f"vehicles.{n}"
        painted = wrongs.name(
            f"{where}.painted", vehicle.painted, "This vehicle", "W 331 (the number that is painted on it)"
        )
        what = painted or f"vehicle {n + 1}"
        id_ = ids.of(painted)
        kind = wrongs.choice(f"{where}.kind", vehicle.kind, KINDS, "kind of vehicle")
        length = wrongs.length(f"{where}.length", vehicle.length, f"{what} over its buffers", "104")
        tags = _tags(f"{where}.tags", vehicle, what, owners, wrongs)
        rolling.stock[id_] = Vehicle(id_, kind, length, tags, tail=kind == "brake", painted=painted)
        road = _road(f"{where}.at", vehicle, track, wrongs)
        if road is not None:
            before = taken_mm.get(road, 0.0)
            taken_mm[road] = before + (length if length != float("inf") else 0.0)
            order = 1 + sum(standing.place == road for standing in rolling.standing)
            rolling.standing.append(Standing(id_, road, order))
            _tell_too_long(f"{where}.at", what, road, (before, taken_mm[road]), track, wrongs)
    return rolling


def _tags(where: str, vehicle: VehicleSketch, what: str, owners: dict[str, str], wrongs: Wrongs) -> tuple[str, ...]:
    found: list[str] = []
    for word in re.split(r"[\s,;]+", vehicle.tags.strip()) if vehicle.tags.strip() else []:
        tag = re.sub(r"[:.\-]", "", word.upper()).removeprefix("0X")
        if not TAG.fullmatch(tag):
            said = f"“{word[:30]}” is no tag: a tag is an even number of 4 to 20 hexadecimal digits (0-9, A-F)."
            wrongs.say(where, said, f"Write it as the reader sends it, for example {EXAMPLE_TAG}, or leave it out for now.")
        elif tag in owners:
            wrongs.say(where, f"Tag {tag} belongs to {owners[tag]} already.", "Take it out of one of the two.")
        else:
            owners[tag] = what
            found.append(tag)
    return tuple(found)


def _road(where: str, vehicle: VehicleSketch, track: Track, wrongs: Wrongs) -> str | None:
    if vehicle.at is None:
        return None
    station, road = vehicle.at
    if station < len(track.by_number) and road < len(track.by_number[station]):
        return track.by_number[station][road]
    wrongs.say(where, "It stands on a road that is not there any more.", "Choose another road, or none.")
    return None


def _tell_too_long(
    where: str, what: str, road: str, before_and_with_mm: tuple[float, float], track: Track, wrongs: Wrongs
) -> None:
    """What stands on a road with this vehicle, held against the road's length; told once a road, where it begins."""
    room, name = track.roads[road].length_mm, track.named.get(road, road.partition(".")[2])
    before, with_it = before_and_with_mm
    if with_it <= room or before > room:
        return
    station = track.stations[track.roads[road].station].name
    how = f"{what} is {with_it:g} mm long" if not before else f"With {what}, {with_it:g} mm stand there"
    wrongs.say(where, f"{how}; {name} of {station} has {room:g} mm.", "Let it stand elsewhere, or correct a length.")
