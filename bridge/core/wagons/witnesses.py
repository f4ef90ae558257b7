"""What would have told of a vehicle, had its train taken it along: whether that it has not shows that it was left.

Rule: any one reader misses some, and a reader at a siding is no proof that what came in has stayed. Nothing here remembers
or changes anything.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from bridge.core.plan import Move
from bridge.core.readings import in_the_dark, limit, stretch_state
from bridge.core.wagons.moves import Due

if TYPE_CHECKING:
    from bridge.core.state import State

AT_ONCE, NOT_YET = 0.0, inf


def of_lift(state: State, due: Due, move: Move) -> bool:
    """True where a vehicle, had it been lifted, would have been seen by two of what can tell: any one reader misses some.
    They are those at the road's mouth (of what has no tag: where nobody has been), detectors of the road, where nothing else
    stands, and, of what carries a tag and no other working could lift, those where its train went out and came in. Of what
    no other could lift it is enough that nobody was read at the mouth: the train's engine would have passed it twice."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant, road, has_tag = railway.plant, move.from_road, bool(railway.stock[move.vehicle].tags)
    mouths = [f"{road}@{end}" for end in plant.roads[road].open]
    nobody = not any(where.read_since(m, due.came_t) for m in mouths)
    at_mouth = all(plant.read_at(m) for m in mouths) and (has_tag or nobody)
    readers = plant.read_at(f"{due.section}@{due.station}") + due.silent if has_tag else 0
    if len(state.freight.doers.get(move.index, ())) > 1:
        readers = min(readers, 1)
    elif at_mouth and nobody and railway.stock[state.roster.trains[due.train].engine].tags:
        return True
    alone = list(where.line(road)) == [move.vehicle] and stretch_state(state, road) == "occupied"
    return at_mouth + readers + alone > 1


def of_going_on(state: State, due: Due, move: Move) -> float:
    """From which host second on it shows that a vehicle, had its train taken it on, would have been read with that: a reader
    at a siding tells who comes in, and misses some that are drawn out again. The whole train is to have passed. Where none
    reads it on its way, that the vehicle was left rests on what is known of its road; of what has no tag, on a detector
    there alone."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant, place = railway.plant, where.place(move.vehicle)
    if not railway.stock[move.vehicle].tags:
        alone = list(where.line(place)) == [move.vehicle] and stretch_state(state, place) == "occupied"
        return AT_ONCE if alone else NOT_YET
    ends = [end for end in plant.at_stretch.get(due.section, ()) if plant.read_at(end.id)]
    if due.silent or not ends:
        return AT_ONCE
    if due.n is not None and all(plant.station_of(end.throat) != due.station for end in ends):
        return NOT_YET
    passed_t = where.since(state.roster.trains[due.train].engine) if due.n is None else due.out_t
    return round(passed_t + limit(state, "out_after", 20.0), 6)


def unheard(state: State, due: Due, move: Move) -> tuple[str, ...]:
    """What of the detection could explain what seems to have been left undone."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    ends = [f"{road}@{end}" for road in (move.from_road, move.to_road) for end in plant.roads[road].open]
    ends.append(f"{due.section}@{due.station}")
    return in_the_dark(state, [d for end in ends for d in plant.standing_at.get(end, ())])
