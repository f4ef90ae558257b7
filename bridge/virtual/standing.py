"""How vehicles stand at the beginning, to the millimetre: as whereabouts.csv has them, in blocks that are coupled.

Rule: a working's engine and rake that begin on a road are one block; so is what stands between blocks. In a dead end blocks
stand at the buffers, on a road open at both ends in its middle; what is too long for its road hangs out of the open end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bridge.core.plan import Railway, Vehicle
from bridge.virtual.rake import Rake
from bridge.virtual.track import Leg, Track


def standing(railway: Railway, track: Track, gap_mm: float) -> Iterator[Rake]:
    """The rakes of a railway; `gap_mm` is between blocks, and before a buffer stop."""
    places: dict[str, list[tuple[int, str]]] = {}
    for row in railway.standing:
        places.setdefault(row.place, []).append((row.order, row.vehicle))
    for place, rows in places.items():
        if place in railway.plant.at_stretch:
            yield from _on(railway, track, gap_mm, place, [railway.stock[vehicle] for _, vehicle in sorted(rows)])


def _on(railway: Railway, track: Track, gap_mm: float, place: str, vehicles: list[Vehicle]) -> Iterator[Rake]:
    blocks = _blocks(railway, place, vehicles)
    length_mm = track.length_mm(place)
    taken_mm = sum(v.length_mm for v in vehicles) + gap_mm * (len(blocks) - 1)
    low_mm = (length_mm - taken_mm) / 2
    if track.is_dead_end(place, 0):
        low_mm = gap_mm
    elif track.is_dead_end(place, 1):
        low_mm = length_mm - taken_mm - gap_mm
    for block in blocks:
        rake = Rake(tuple(block), (Leg(place, True, 0.0, length_mm),), low_mm)
        yield _reaching_out(track, rake)
        low_mm = rake.high_mm + gap_mm


def _reaching_out(track: Track, rake: Rake) -> Rake:
    """A rake too long for its stretch hangs out of its open end."""
    leg = rake.legs[0]
    legs = [leg]
    if rake.high_mm > leg.end_mm and (beyond := track.way_out(leg.stretch, 1)):
        legs.append(Leg(beyond[0], beyond[1], leg.end_mm, track.length_mm(beyond[0])))
    if rake.low_mm < leg.x_mm and (beyond := track.way_out(leg.stretch, 0)):
        length_mm = track.length_mm(beyond[0])
        legs.insert(0, Leg(beyond[0], not beyond[1], leg.x_mm - length_mm, length_mm))
    return replace(rake, legs=tuple(legs))


def _blocks(railway: Railway, place: str, vehicles: list[Vehicle]) -> list[list[Vehicle]]:
    together: dict[str, str] = {}
    for working in railway.workings.values():
        if working.calls and working.calls[0].road == place:
            together.update(dict.fromkeys((working.engine, *working.rake), working.id))
    blocks: list[list[Vehicle]] = []
    for vehicle in vehicles:
        mine = together.get(vehicle.id, "engine" if vehicle.kind == "engine" else "")
        last = together.get(blocks[-1][-1].id, "engine" if blocks[-1][-1].kind == "engine" else "") if blocks else None
        if blocks and mine == last and mine != "engine":
            blocks[-1].append(vehicle)
        else:
            blocks.append([vehicle])
    return blocks
