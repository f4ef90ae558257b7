"""What the plan still asks: the open row of each vehicle, and what a train is to do with it at its present call.

Rule: read from the state, changing nothing; `bridge.core.wagons.freight` and `bridge.core.wagons.reckoning` keep the rows.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.plan import Move
from bridge.core.trains import Phase, Train, calls_at
from bridge.core.wagons.moves import MoveNow

if TYPE_CHECKING:
    from bridge.core.state import State


def open_move(state: State, vehicle: str) -> MoveNow | None:
    """The first row of a vehicle that is neither done nor failed."""
    for index in state.freight.of_vehicle.get(vehicle, ()):
        if state.freight.moves[index].state in ("booked", "in-train"):
            return state.freight.moves[index]
    return None


def serves(state: State, move: Move, train: Train, station: str) -> bool:
    """True where this train, at its present call at a station, can do a row's work there."""
    if train.working is None or train.station != station:
        return False
    if move.index not in state.freight.of_working.get(train.working.id, ()):
        return False
    start, end = (road.partition(".")[0] for road in (move.from_road, move.to_road))
    later = (call.station for call in train.working.calls[train.call + 1 :])
    return station == end or station != start or end in later


def last_to_set_out(train: Train, move: Move) -> bool:
    """True where the train's present call is the last at which it could set a vehicle out as a row has it."""
    if train.working is None:
        return False
    calls = [call.index for call in calls_at(train.working, move.to_road.partition(".")[0])]
    return not calls or train.call >= _named(calls, move, calls[-1])


def last_to_lift(train: Train, move: Move) -> bool:
    """True where the train's present call is the last at which it could lift a vehicle as a row has it, and still take it
    where it is to go."""
    if train.working is None:
        return False
    start, end = (road.partition(".")[0] for road in (move.from_road, move.to_road))
    calls = [call.index for call in calls_at(train.working, start)]
    ends = [call.index for call in calls_at(train.working, end)]
    able = [index for index in calls if start == end or any(later > index for later in ends)]
    return not able or train.call >= _named(calls, move, able[-1])


def _named(calls: list[int], move: Move, last: int) -> int:
    """Which call is to do a row: the one that it names (counted from 1 at that station), else the last."""
    return calls[move.call - 1] if move.call is not None and 0 < move.call <= len(calls) else last


def another_may_lift(state: State, move: Move, train: Train) -> bool:
    """True where another working that may do a row has not left the last call at which it could. What a goods has left
    behind waits for no passenger train."""
    trains = state.roster.trains
    others = [other for each in state.freight.doers.get(move.index, ()) if (other := trains[each]) is not train]
    if _is_goods(train):
        others = [other for other in others if _is_goods(other)]
    return any(other.phase is not Phase.ENDED and not _has_passed(other, move) for other in others)


def _is_goods(train: Train) -> bool:
    return train.working is not None and train.working.kind == "goods"


def _has_passed(train: Train, move: Move) -> bool:
    station, is_sure = move.from_road.partition(".")[0], train.phase is Phase.IN_SECTION and train.is_gone
    may_be_there = (train.station == station and not is_sure) or (train.left == station and not train.is_gone)
    return last_to_lift(train, move) and train.phase is not Phase.TO_COME and not may_be_there


def stays(state: State, vehicle: str, engine: str) -> bool:
    """True where a row books a vehicle to stay at the station where this engine's train is."""
    train = state.roster.current(engine)
    now = open_move(state, vehicle)
    if train is None or now is None or train.station is None:
        return False
    station = now.move.to_road.partition(".")[0]
    return now.state == "in-train" and station == train.station and serves(state, now.move, train, station)


def stays_on(state: State, vehicle: str, road: str) -> bool:
    """True where a row books a vehicle that is in a train to stay on this road."""
    now = open_move(state, vehicle)
    return now is not None and now.state == "in-train" and now.move.to_road == road


def wanted(state: State, vehicle: str) -> str | None:
    """The engine of a train at this vehicle's station that is booked to lift it."""
    now = open_move(state, vehicle)
    if now is None or now.state != "booked":
        return None
    station = now.move.from_road.partition(".")[0]
    for train in map(state.roster.trains.__getitem__, state.freight.doers.get(now.move.index, ())):
        if train.phase in (Phase.AT_STATION, Phase.OUT) and serves(state, now.move, train, station):
            return train.engine
    return None


def to_shift(state: State, train: Train) -> dict[str, str]:
    """Vehicles that this call is to move from one road of its station to another, and that have not been seen to move: to
    the road where they are booked."""
    found: dict[str, str] = {}
    for index in state.freight.of_working.get(train.id, ()) if train.working is not None and train.station else ():
        now, move = state.freight.moves[index], state.freight.moves[index].move
        stations = {road.partition(".")[0] for road in (move.from_road, move.to_road)}
        is_open = now.state == "booked" and open_move(state, move.vehicle) is now
        if is_open and stations == {train.station} and serves(state, move, train, train.station or ""):
            found[move.vehicle] = move.to_road
    return found


def outstanding(state: State, train: Train) -> bool:
    """True where a row that this call is to do is not done."""
    return any(True for _ in left_to_do(state, train))


def left_to_do(state: State, train: Train) -> Iterator[MoveNow]:
    """The rows that this call is to do, and that are not done: booked ones are to be lifted here, the others to stay."""
    if train.working is None or train.station is None:
        return
    for index in state.freight.of_working.get(train.working.id, ()):
        now = state.freight.moves[index]
        move, station = now.move, train.station
        if now.state == "in-train" and now.train == train.id and move.to_road.partition(".")[0] == station:
            yield now
        here = now.state == "booked" and move.from_road.partition(".")[0] == station
        if here and serves(state, move, train, station) and open_move(state, move.vehicle) is now:
            yield now


def all_done(state: State, train: Train) -> bool:
    """True where nothing of a working's is left to do."""
    if train.working is None:
        return False
    return all(
        state.freight.moves[i].state not in ("booked", "in-train")
        for i in state.freight.of_working.get(train.working.id, ())
        if state.freight.moves[i].move.working == train.working.id or state.freight.moves[i].train == train.id
    )
