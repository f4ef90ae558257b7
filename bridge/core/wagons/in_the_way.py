"""What is in a train's way on the road where it is booked to come in: vehicles that stand there, or foul it.

Rule: read from the state, changing nothing. Not in its way is what is its own, what it is to lift there, and what is booked
away before it comes, be that late or not.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.plan import Call, Move, Working
from bridge.core.trains import Phase, Train, calls_at
from bridge.core.wagons.booked import open_move
from bridge.core.wagons.moves import KNOWN

if TYPE_CHECKING:
    from bridge.core.state import State


def vehicles(state: State, train: Train, call: Call, throat: str | None) -> tuple[str, ...]:
    """The vehicles in the way of a train at a call that it comes to by this throat."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None and train.working is not None
    mine = {*where.company(train.engine), *(train.working.rake if train.phase is Phase.TO_COME else ())}
    found = [v for v in where.line(call.road) if not _in_train_that_leaves(state, v, call)]
    found += _fouling(state, call.road, throat)
    return tuple(
        v
        for v in dict.fromkeys(found)
        if v not in mine and where.belief(v).sure >= KNOWN and not _booked_away(state, v, train.working, call)
    )


def detectors(state: State, train: Train, throat: str | None, known: tuple[str, ...]) -> tuple[str, ...]:
    """The detectors by which something nobody knows of stands in a throat; once the train is in it itself, those that had
    told of it before (`known`), as have those whose board is to say just now how they stand."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    leads = {where.leader(v) for v in where.line(throat)} if throat is not None else {None}
    if leads - {train.engine}:
        return ()
    rows = [(d.id, conditioning.detectors[d.id]) for d in railway.plant.covering.get(throat or "", ())]
    return tuple(
        name
        for name, now in rows
        if (now.state == "occupied" and (not leads or name in known)) or (now.lapsed and name in known)
    )


def could_be_moved(state: State, station: str) -> bool:
    """True where an engine is at a station: whoever stands in the way there may be about to be taken away."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    return any(railway.stock[v].kind == "engine" for s in railway.plant.stretches_of(station) for v in where.line(s))


def _fouling(state: State, road: str, throat: str | None) -> Iterator[str]:
    """Vehicles of no train that stand in the throat, or hang out of a road beside it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for vehicle in where.line(throat) if throat is not None else ():
        if where.leader(vehicle) is None:
            yield vehicle
    for boundary in railway.plant.at_stretch.get(throat or "", ()):
        beside = railway.plant.roads.get(boundary.outer)
        if beside is not None and road in beside.fouls:
            line = where.line(beside.id)
            is_known = all(where.belief(v).sure >= KNOWN for v in line)  # who hangs out does so for those that stand within
            yield from (v for v in line if is_known and where.leader(v) is None and throat in where.belief(v).fouls)


def _in_train_that_leaves(state: State, vehicle: str, call: Call) -> bool:
    """True for a vehicle of a train that is booked away from where it stands before a call, or is on its way already."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    engine = where.leader(vehicle)
    train = state.roster.current(engine) if engine is not None else None
    if engine is None or (train is not None and train.phase in (Phase.OUT, Phase.IN_SECTION)):
        return engine is not None
    here = train.this_call() if train is not None and train.phase is Phase.AT_STATION else None
    if here is None or train is None or train.next_call() is None:
        follower = state.roster.following(engine)
        here = follower.working.calls[0] if follower is not None and follower.working is not None else None
    return here is not None and here.station == call.station and _leaves_before(here, call)


def _booked_away(state: State, vehicle: str, working: Working, call: Call) -> bool:
    """True for a vehicle that this working is to lift at the call, or another takes away before it."""
    railway, now = state.railway, open_move(state, vehicle)
    assert railway is not None
    place = state.where.place(vehicle) if state.where is not None else ""
    if now is not None and now.move.from_road == place and _takes_away(state, now.move, working, call):
        return True
    return any(
        w.calls[0].road == place and _leaves_before(w.calls[0], call)
        for w in railway.begins_with.get(vehicle, ())
        if state.roster.trains[w.id].phase is Phase.TO_COME
    )


def _takes_away(state: State, move: Move, working: Working, call: Call) -> bool:
    """True where a row is done by this working at the call, or by another before it."""
    railway = state.railway
    assert railway is not None
    if move.working in (None, working.id):
        return True
    other = railway.workings.get(move.working or "")
    return other is not None and any(_leaves_before(c, call) for c in calls_at(other, call.station))


def _leaves_before(here: Call, call: Call) -> bool:
    """True where a train leaves by its times before another comes; also where the times do not tell."""
    leaves_s = here.depart_s if here.depart_s is not None else here.arrive_s
    comes_s = call.arrive_s if call.arrive_s is not None else call.depart_s
    return leaves_s is None or comes_s is None or leaves_s <= comes_s
