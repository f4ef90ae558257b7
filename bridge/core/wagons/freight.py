"""Freight moves: what each working was to lift and set out, and what became of it.

Rule: a vehicle is lifted when it goes with an engine, set out when the engine is seen elsewhere without it; one drawn out
and put back on its road in the same call was neither. A move is missed only at the last call that could have done it.
What the departure shows is kept as `Doubt`s, which `bridge.core.rules.freight` claims from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.movement.trains import Train
from bridge.core.wagons.booked import open_move, serves
from bridge.core.wagons.moves import LIKELY, PLAIN, MoveNow, Shifted
from bridge.core.whereabouts import OFF, Joined, Left

if TYPE_CHECKING:
    from bridge.core.state import State


def prepare(state: State) -> None:
    """Take the rows of the plan; those of a rake that stands ready count as lifted."""
    railway = state.railway
    assert railway is not None
    for move in railway.moves:
        now = MoveNow(move, train=move.working)
        state.freight.moves.append(now)
        state.freight.of_vehicle.setdefault(move.vehicle, []).append(move.index)
        for each in railway.may_do(move):
            state.freight.of_working.setdefault(each, []).append(move.index)
            working = railway.workings[each]
            if move.vehicle in working.rake and move.from_road == working.calls[0].road:
                now.state, now.train = "in-train", each
    for train in state.roster.trains:
        for index in state.freight.of_working.get(train, ()):
            state.freight.doers.setdefault(index, []).append(train)


def say_all(state: State) -> None:
    """At `begin`: each row, booked or in its train."""
    for now in state.freight.moves:
        say_move(state, now, ())


# --- what the whereabouts tell


def joined(state: State, change: Joined) -> None:
    """A vehicle goes with an engine now."""
    train = state.roster.current(change.engine)
    if train is None or not state.running:
        return
    mine = state.freight.shifted.setdefault(train.id, {})
    earlier = mine.get(change.vehicle)
    if earlier is not None and earlier.set_out_n:
        _undo_set_out(state, train, change.vehicle, earlier, change.n)
        return
    mine.setdefault(change.vehicle, Shifted(change.road)).left_on = None
    now = open_move(state, change.vehicle)
    if now is None or now.state != "booked" or now.move.from_road.partition(".")[0] != (train.station or ""):
        return
    if serves(state, now.move, train, train.station or ""):
        lift(state, now, train, change.vehicle, change.n)


def lift(state: State, now: MoveNow, train: Train, vehicle: str, n: int | None) -> None:
    """A vehicle goes with a train as a row books it."""
    sure = sure_of(state, vehicle)
    if sure < LIKELY:
        return
    now.state, now.train, now.sure = "in-train", train.id, sure
    shifted = state.freight.shifted.setdefault(train.id, {}).setdefault(vehicle, Shifted(now.move.from_road))
    keys = {"vehicle": vehicle, "road": now.move.from_road, "train": train.id, "booked": True, "sure": sure}
    evidence = (n, *evidence_of(state, vehicle))
    shifted.lifted_n = state.ledger.say("lifted", keys, evidence)
    say_move(state, now, evidence)
    state.touch("freight", train.id)


def _undo_set_out(state: State, train: Train, vehicle: str, earlier: Shifted, n: int | None) -> None:
    state.ledger.correct(earlier.set_out_n, f"{vehicle} was drawn out again", (n,))
    earlier.set_out_n = 0
    for index in reversed(state.freight.of_vehicle.get(vehicle, [])):
        now = state.freight.moves[index]
        if (now.state == "done" or now.is_out) and now.train == train.id:
            now.state, now.is_out = "in-train", False
            say_move(state, now, (n,))
            break


def left(state: State, change: Left) -> None:
    """A vehicle was left on a road."""
    train = state.roster.current(change.engine)
    if train is None or not state.running:
        return
    mine = state.freight.shifted.setdefault(train.id, {})
    shifted = mine.get(change.vehicle)
    now = open_move(state, change.vehicle)
    if now is not None and now.state == "in-train" and now.move.to_road == change.road:
        set_out(state, now, train, change.vehicle, change.road, change.n)
    elif shifted is not None and shifted.road == change.road:
        if shifted.lifted_n:
            evidence = (change.n, *evidence_of(state, change.vehicle))
            state.ledger.correct(shifted.lifted_n, f"{change.vehicle} was put back", evidence)
            if now is not None and now.state == "in-train":
                now.state, now.train = "booked", now.move.working
                say_move(state, now, evidence)
        del mine[change.vehicle]
    else:
        shifted = mine.setdefault(change.vehicle, Shifted(OFF))
        shifted.left_on = change.road
        if change.road != train.road:  # on the call's road it is its train's until that has left without it
            shifted.set_out_n = say_left(state, train, change.vehicle, change.road, change.n)


def set_out(state: State, now: MoveNow, train: Train, vehicle: str, road: str, n: int | None) -> None:
    """A vehicle was left where a row books it."""
    sure = sure_of(state, vehicle)
    if sure < LIKELY:
        return
    shifted = state.freight.shifted.setdefault(train.id, {}).setdefault(vehicle, Shifted(OFF))
    keys = {"vehicle": vehicle, "road": road, "train": train.id, "booked": True, "sure": sure}
    evidence = (n, *evidence_of(state, vehicle))
    shifted.set_out_n = state.ledger.say("set-out", keys, evidence)
    now.sure, now.train, now.is_out = sure, train.id, True
    now.state = "done" if sure >= PLAIN else now.state
    say_move(state, now, evidence)
    state.touch("freight", train.id)


def look_again(state: State, vehicle: str) -> None:
    """A vehicle's place has become surer, or less sure: what could not be said yet is said now, and what was said with
    "probably" plainly."""
    where, now = state.where, open_move(state, vehicle)
    if now is None or where is None:
        return
    train = state.roster.trains.get(now.train or "")
    sure = sure_of(state, vehicle)
    if train is None or sure < LIKELY:
        return
    lead = where.leader(vehicle)
    if now.state == "in-train" and lead is None and where.place(vehicle) == now.move.to_road:
        if not now.is_out:
            set_out(state, now, train, vehicle, now.move.to_road, None)
        elif sure >= PLAIN:
            now.sure, now.state = sure, "done"
            say_move(state, now, evidence_of(state, vehicle))
    elif now.state == "in-train" and lead == train.engine and now.sure < PLAIN <= sure:
        now.sure = sure
        say_move(state, now, evidence_of(state, vehicle))
    elif (
        now.state == "booked"
        and lead == train.engine
        and vehicle in state.freight.shifted.get(train.id, {})
        and serves(state, now.move, train, train.station or "")
    ):
        lift(state, now, train, vehicle, None)


def told_set_out(state: State, train: Train, vehicle: str, road: str, n: int) -> None:
    """An operator saw a vehicle set out."""
    now = open_move(state, vehicle)
    mine = state.freight.shifted.setdefault(train.id, {}).get(vehicle)
    if mine is not None and mine.set_out_n:
        return
    if now is not None and now.move.to_road == road:
        if now.state == "booked":
            now.state, now.train = "in-train", train.id
        set_out(state, now, train, vehicle, road, n)
    elif mine is not None and mine.left_on == road:
        mine.set_out_n = say_left(state, train, vehicle, road, n)  # on the call's road too: it was seen


def evidence_of(state: State, vehicle: str) -> tuple[int, ...]:
    """What the belief in a vehicle's place rests on."""
    where = state.where
    assert where is not None
    return where.belief(vehicle).evidence


def say_left(state: State, train: Train, vehicle: str, road: str, n: int | None = None) -> int:
    """A vehicle was left on a road where no row has it stay; 0 where nothing can be built on that."""
    sure = sure_of(state, vehicle)
    if sure < LIKELY or state.railway is None or road not in state.railway.plant.roads:
        return 0
    keys = {"vehicle": vehicle, "road": road, "train": train.id, "booked": False, "sure": sure}
    return state.ledger.say("set-out", keys, (n, *evidence_of(state, vehicle)))


def sure_of(state: State, vehicle: str) -> float:
    """How sure the place of a vehicle is."""
    where = state.where
    assert where is not None
    return where.belief(vehicle).sure


def say_move(state: State, now: MoveNow, evidence: tuple[int | None, ...]) -> None:
    """Say how a row stands now."""
    move = now.move
    keys = {
        "vehicle": move.vehicle,
        "from": move.from_road,
        "to": move.to_road,
        "train": now.train,
        "state": now.state,
        "sure": now.sure,
    }
    now.said_n = state.ledger.say("move", keys, evidence)
    state.touch("freight", now.train or "")
