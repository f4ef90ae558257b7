"""Whether vehicles are believed where they are, and in the order in which they stand.

`vehicles`  a vehicle is right where the stretch (road, throat or section) on which it is believed is one on which it truly
            has any part; one that hangs over a boundary is right on either side. A vehicle nowhere on the railway is right
            as `off`.
`stations`  a vehicle is right where it is believed on a road or in a throat of a station at which it has any part; on a
            section it is at no station, and has to be believed on that section.
`lines`     of roads and sections that truly hold two vehicles or more wholly: right where what is believed to stand there
            is what stands there, all of it, in its order. A vehicle that hangs out of it may be believed on either of its
            stretches.
`pairs`     of neighbours that both truly stand wholly on one road or section: right where both are believed there, in that
            order and with nothing between.
Throats count for `vehicles` alone: what hangs out of two roads lies side by side there.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import pairwise

from bridge.core.plant import Plant

from .counting import Count, Counts
from .engine import Held
from .true_lines import OFF, Lines, Places

NOWHERE = Held("", None, 0.0)


def vehicles(held: Mapping[str, Held], places: Mapping[str, Places], among: Collection[str]) -> Count:
    """How many of some vehicles are believed on the right stretch."""
    return Count(sum(is_right(held, places, vehicle) for vehicle in among), len(among))


def is_right(held: Mapping[str, Held], places: Mapping[str, Places], vehicle: str) -> bool:
    """Whether one vehicle is believed on a stretch that it is on."""
    return held.get(vehicle, NOWHERE).place in places.get(vehicle, OFF)


def stations(held: Mapping[str, Held], places: Mapping[str, Places], plant: Plant) -> Count:
    """How many of all vehicles are believed at the right station, or on the right section."""

    def whereabouts(place: str) -> str:
        return plant.station_of(place) or place

    right = (whereabouts(held.get(v, NOWHERE).place) in map(whereabouts, there) for v, there in places.items())
    return Count(sum(right), len(places))


def believed_lines(held: Mapping[str, Held]) -> dict[str, tuple[str, ...]]:
    """Stretch to the vehicles believed there, in the believed order; one without an order stands last."""
    lines: dict[str, list[str]] = {}
    for vehicle in sorted(held, key=lambda v: (held[v].order is None, held[v].order or 0, v)):
        lines.setdefault(held[vehicle].place, []).append(vehicle)
    return {stretch: tuple(line) for stretch, line in lines.items()}


def order(held: Mapping[str, Held], lines: Lines, places: Mapping[str, Places], stretches: Collection[str]) -> Counts:
    """`lines` and `pairs` of these stretches."""
    believed = believed_lines(held)
    whole, pairs = Count(), Count()
    for stretch in stretches:
        line, told = lines.get(stretch, ()), believed.get(stretch, ())
        wholly = [vehicle for vehicle in line if places[vehicle] == {stretch}]
        beyond = {v for v in line if v not in wholly and v not in told and is_right(held, places, v)}
        if len(wholly) >= 2:
            whole += Count(int(told == tuple(v for v in line if v not in beyond)), 1)
        near = set(pairwise(told))
        found = list(pairwise(wholly))
        pairs += Count(sum(pair in near for pair in found), len(found))
    return {"lines": whole, "pairs": pairs}
