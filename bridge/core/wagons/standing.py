"""How full the roads are, now and as the booked moves will make them.

Rule: only vehicles that no train is working count; a road that is foretold to be too full is a note until the working
that makes it so leaves its call before, then a caution.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.wagons.moves import PLAIN
from bridge.forecast.overfull import fouled_by, from_the_start

if TYPE_CHECKING:
    from bridge.core.state import State

STOOD_S = (
    1.5  # vehicles must have stood so long before a road counts as too full: a train may be about to draw them off again
)
SLACK_MM = 0.5

Fullness = tuple[tuple[str, ...], float, bool, tuple[str, ...], tuple[int, ...]]


def look_ahead(state: State) -> None:
    """At `begin`: which roads the booked moves will make too full."""
    railway = state.railway
    assert railway is not None
    for found in from_the_start(railway):
        due = found.working is None
        state.overfull[found.road] = (found.vehicles, found.stands_mm, due, found.fouls, ())
        if found.working is not None:
            state.foretold[found.road] = found.working
        state.touch("road", found.road)


def train_departed(state: State, train: str) -> None:
    """A working is on its way: what it was foretold to make too full at its next station is due."""
    railway, who = state.railway, state.roster.trains.get(train)
    assert railway is not None
    then = who.next_call() if who is not None else None
    for road, working in list(state.foretold.items()):
        left = who is not None and railway.plant.roads[road].station == who.station
        if working == train and left and _over(state, road) is None:
            del state.foretold[road], state.overfull[road]  # its work there is done, and there is room
            state.touch("road", road)
        elif working == train and then is not None and railway.plant.roads[road].station == then.station:
            vehicles, stands_mm, _, fouls, evidence = state.overfull[road]
            state.overfull[road] = (vehicles, stands_mm, True, fouls, evidence)
            state.touch("road", road)


def look_at(state: State, road: str) -> None:
    """A road's line has changed: is it too full now, or no more?"""
    found = _over(state, road)
    if found is None:
        state.brimming.pop(road, None)
        if road in state.overfull and state.overfull[road][2] and road not in state.foretold:
            del state.overfull[road]
            state.touch("road", road)
    elif state.overfull.get(road, ((), 0.0, False, (), ()))[:4] != found[:4]:
        state.brimming.setdefault(road, round(state.t + STOOD_S, 6))


def pass_deadline(state: State) -> None:
    """What has stood too full for long enough is too full."""
    for road in [r for r, at in state.brimming.items() if at <= state.t]:
        del state.brimming[road]
        found = _over(state, road)
        if found is not None and _passed_since(state, road, state.t - STOOD_S):
            state.brimming[road] = round(state.t + STOOD_S, 6)
        elif found is not None:
            state.overfull[road] = found
            state.touch("road", road)


def due(state: State) -> float | None:
    """When a road that has just become too full is to be judged."""
    return min(state.brimming.values(), default=None)


def _passed_since(state: State, road: str, t: float) -> bool:
    """True where a reader at a mouth of a road has read something since host second `t`: somebody is still at work there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    return any(where.read_since(f"{road}@{end}", t) for end in railway.plant.roads[road].open)


def _over(state: State, road: str) -> Fullness | None:
    """What stands on a road, where it is more than fits and no train is working there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    line = where.line(road)
    stands_mm = sum(railway.stock[v].length_mm for v in line)
    if stands_mm <= railway.plant.roads[road].length_mm + SLACK_MM or any(where.leader(v) is not None for v in line):
        return None
    if min(where.belief(v).sure for v in line) < PLAIN:
        return None
    evidence = tuple(sorted({n for v in line for n in where.belief(v).evidence}))
    return tuple(line), stands_mm, True, fouled_by(railway, road), evidence
