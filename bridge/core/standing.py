"""How full the roads are, now and as the booked moves will make them.

Rule: only vehicles that no train is working count; a road that is foretold to be too full is a note until the working that
makes it so leaves its call before, then a caution.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.forecast.overfull import fouled_by, from_the_start

if TYPE_CHECKING:
    from bridge.core.state import State

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


def train_departed(state: State, train: str, station: str | None) -> None:
    """A working is on its way: what it was foretold to make too full at its next station is due."""
    railway, who = state.railway, state.roster.trains.get(train)
    assert railway is not None
    then = who.next_call() if who is not None else None
    for road, working in list(state.foretold.items()):
        if working == train and then is not None and railway.plant.roads[road].station == then.station:
            vehicles, stands_mm, _, fouls, evidence = state.overfull[road]
            state.overfull[road] = (vehicles, stands_mm, True, fouls, evidence)
            state.touch("road", road)


def look_at(state: State, road: str) -> None:
    """A road's line has changed: is it too full now?"""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    line = where.line(road)
    standing = [v for v in line if where.leader(v) is None]
    stands_mm = sum(railway.stock[v].length_mm for v in standing)
    over = stands_mm > railway.plant.roads[road].length_mm + 0.5
    if over and len(standing) == len(line):
        sure = min(where.belief(v).sure for v in standing)
        if sure < 0.6:
            return
        evidence = tuple(sorted({n for v in standing for n in where.belief(v).evidence}))
        found: Fullness = (tuple(standing), stands_mm, True, fouled_by(railway, road), evidence)
        if state.overfull.get(road, ((), 0, False, (), ()))[:4] != found[:4]:
            state.overfull[road] = found
            state.touch("road", road)
    elif not over and road in state.overfull and state.overfull[road][2] and road not in state.foretold:
        del state.overfull[road]
        state.touch("road", road)
