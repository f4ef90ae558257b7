"""Where everything stands at the end of a session, and what somebody has told of it since by eye.

Rule: on each place vehicles count from 1 at its up end without gaps; what was told by eye goes before what was inferred.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from bridge.core.operator.word_values import Stands
from bridge.core.plant import Plant
from bridge.folder.whereabouts import OFF

LAST = 1 << 30


@dataclass(frozen=True, slots=True)
class Stand:
    """One vehicle's place (a road, throat, section or `off`) and order there (0: off), how sure (0 to 1) and by what."""

    vehicle: str
    place: str
    order: int
    sure: float
    by: str


Standings = Mapping[str, Stand]


def stands_of(vehicles: Mapping[str, Mapping[str, Any]]) -> Standings:
    """Where a session closed with its vehicles, from the `vehicles` of its last snapshot."""
    rows = [Stand(v, row["place"], row["order"] or LAST, row["sure"], row["by"]) for v, row in vehicles.items()]
    return _counted(rows)


def settled(standing: Standings, told: Iterable[Stands], plant: Plant) -> Standings:
    """The same after these words, each in its turn; one about a vehicle or place that nobody knows changes nothing."""
    places = {OFF, *plant.roads, *plant.throats, *plant.sections}
    for word in told:
        if word.vehicle in standing and word.place in places:
            standing = _told(standing, word, plant)
    return standing


def lines(standing: Standings) -> dict[str, list[str]]:
    """Who stands on each place, in order; nobody that is off."""
    found: dict[str, list[str]] = {}
    for stand in sorted(standing.values(), key=lambda s: s.order):
        if stand.place != OFF:
            found.setdefault(stand.place, []).append(stand.vehicle)
    return found


def _told(standing: Standings, word: Stands, plant: Plant) -> Standings:
    old = standing[word.vehicle]
    line = [v for v in lines(standing).get(word.place, []) if v != word.vehicle]
    if word.order is not None:
        index = min(word.order - 1, len(line))
    elif old.place == word.place:
        index = old.order - 1
    else:
        index = 0 if _first_end(word.place, old.place, plant) else len(line)
    line.insert(index, word.vehicle)
    rows = {**standing, word.vehicle: Stand(word.vehicle, word.place, 0, 1.0, "told")}
    if word.place != OFF:
        rows |= {vehicle: replace(rows[vehicle], order=n) for n, vehicle in enumerate(line, 1)}
    return _counted(rows.values())


def _first_end(place: str, old: str, plant: Plant) -> bool:
    """True where a vehicle that came from `old` stands at the up end: a dead end's open one, else the end it came by."""
    road = plant.roads.get(place)
    if road is not None and len(road.open) == 1:
        return "up" in road.open
    section = plant.sections.get(old)
    beside = (old,) if section is None else section.throats
    return road is not None and f"{road.station}.up" in beside


def _counted(rows: Iterable[Stand]) -> Standings:
    counts: dict[str, int] = {}
    numbers: dict[str, int] = {}
    every = list(rows)
    for stand in sorted(every, key=lambda s: s.order):
        counts[stand.place] = counts.get(stand.place, 0) + 1
        numbers[stand.vehicle] = 0 if stand.place == OFF else counts[stand.place]
    return {stand.vehicle: replace(stand, order=numbers[stand.vehicle]) for stand in every}
