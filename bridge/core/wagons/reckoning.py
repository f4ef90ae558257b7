"""What a train leaves undone when it departs or ends, and what is carried over at the end.

Rule: a move is missed only at the last call that could have done it, and only where what was not seen would have been seen.
What a departure shows is kept as `Doubt`s, from which `bridge.core.rules.freight` claims; they go when it proves to be none.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.facts import Doubt
from bridge.core.presence import Presence
from bridge.core.trains import Train
from bridge.core.wagons import unbooked, witnesses
from bridge.core.wagons.away import is_away, surely_at
from bridge.core.wagons.booked import all_done, another_may_lift, last_to_lift, last_to_set_out, open_move, serves
from bridge.core.wagons.freight import lift, say_left, say_move, set_out, sure_of
from bridge.core.wagons.moves import KNOWN, PLAIN, Due, MoveNow
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed: what it forgot, missed or left in the wrong place shows as soon as it has surely gone."""
    before = [doubt for doubt in state.doubts.pop(train.id, []) if doubt.call == train.call]  # it goes from there once more
    if not before:
        state.freight.at_departure[train.id] = []
    _set_due(state, train, presence.start.partition(".")[0], presence.section, presence.out_t, presence.n)
    unbooked.train_left(state, train, presence, state.freight.shifted.get(train.id, {}))
    state.freight.unsaid[train.id] = state.doubts.pop(train.id, [])
    state.doubts[train.id] = before
    if train.is_gone:
        proved_gone(state, train)
    _unbooked(state, train)
    state.touch("freight", train.id)


def proved_gone(state: State, train: Train) -> None:
    """A train has surely gone from its call: what it has left undone there is judged."""
    for now in _rows(state, train):
        if now.due is not None and now.due.train == train.id:
            _judge(state, now, now.due)
    state.doubts.setdefault(train.id, []).extend(state.freight.unsaid.pop(train.id, ()))
    state.touch("freight", train.id)


def _set_due(state: State, train: Train, station: str, section: str, out_t: float, n: int | None) -> None:
    """From now on it shows of these rows what has become of them."""
    for now in _rows(state, train):
        of = _last_of(state, now, train, station)
        if of is not None:
            now.due = Due(train.id, train.call, station, section, train.arrived_t or 0.0, out_t, n, of)


def passed_reader(state: State, train: Train, out_t: float) -> None:
    """A train that went out at host second `out_t` has passed a reader with all of it: what was not read did not come."""
    for now in _rows(state, train):
        if now.due is not None and now.due.train == train.id and now.due.out_t <= out_t:
            now.due = replace(now.due, silent=now.due.silent + 1)
            _judge(state, now, now.due)


def _rows(state: State, train: Train) -> list[MoveNow]:
    """The rows of a working that are neither done nor failed, and the next of their vehicles."""
    rows = state.freight.of_working.get(train.id, ()) if train.working is not None else ()
    found = [state.freight.moves[index] for index in rows]
    return [now for now in found if now.state in ("booked", "in-train") and open_move(state, now.move.vehicle) is now]


def _last_of(state: State, now: MoveNow, train: Train, station: str) -> str | None:
    """What of a row a train that leaves a station cannot do later (see `Due`); None where that shows nothing of it."""
    move = now.move
    from_here, to_here = (road.partition(".")[0] == station for road in (move.from_road, move.to_road))
    if now.state == "in-train":
        is_mine = now.train == train.id
        return None if not is_mine else "set-out" if to_here and last_to_set_out(train, move) else ""
    return "lift" if from_here and serves(state, move, train, station) and last_to_lift(train, move) else None


def look_again(state: State, vehicle: str) -> None:
    """What is believed of a vehicle has changed: does that show what a departure has left undone?"""
    now = open_move(state, vehicle)
    if now is None:
        return
    if now.due is not None and now.state == "in-train" and now.train != now.due.train:
        now.due = None  # another train has taken it since: what the departure of this one shows is past
    if now.due is not None:
        _judge(state, now, now.due)
    if now.state == "in-train" and now.train is not None:
        _look_behind(state, now, state.roster.trains[now.train])


def pass_deadline(state: State) -> None:
    """Trains have passed what would have read the vehicles with them that they left behind."""
    while (found := state.reckoned.pop(state.t)) is not None:
        look_again(state, found[1][1])


def due(state: State) -> float | None:
    """The next moment at which one has."""
    return state.reckoned.first()


def engine_moved(state: State, engine: str) -> None:
    """An engine may be elsewhere: does what its train has set down stand where it is not booked?"""
    train = state.roster.current(engine)
    if train is None:
        return
    for now in _rows(state, train):
        if now.state == "in-train" and now.train == train.id:
            _look_behind(state, now, train)


def _look_behind(state: State, now: MoveNow, train: Train) -> None:
    """What a train was to take elsewhere stands on a road, and its engine has been seen at another station since: it has
    left it there, whatever has been heard of its departure."""
    railway, where, vehicle = state.railway, state.where, now.move.vehicle
    assert railway is not None and where is not None
    plant, place = railway.plant, where.place(vehicle)
    here, there = plant.station_of(place), surely_at(state, train.engine)
    is_seen = where.belief(train.engine).by in ("seen", "told")
    has_gone_on = is_seen and where.since(train.engine) >= where.since(vehicle)
    if place in plant.roads and there not in (None, here) and where.leader(vehicle) is None and has_gone_on:
        due = now.due
        if due is None or (due.train, due.station) != (train.id, here):
            due = Due(train.id, train.call, here or "", train.section or "", 0.0, state.t, None, "")
        _judge(state, now, due, is_gone=True)


def _judge(state: State, now: MoveNow, due: Due, is_gone: bool = False) -> None:
    """What a departure shows of one row: a fact where something is wrong, nothing where all is well, or not sure yet.
    `is_gone`: that it is one is sure, whatever is known of the train."""
    is_gone = is_gone or state.roster.trains[due.train].is_gone
    found = _missed(state, now, due) if now.state == "booked" and is_gone else None
    if now.state == "in-train":
        found = _carried(state, now, due, is_gone) or (_left(state, now, due) if is_gone else None)
    if found is None:
        return
    kind, road, shown = found
    evidence = shown if due.n is None else tuple(sorted({*shown, due.n}))
    state.freight.at_departure.setdefault(due.train, []).append((now.move.index, now.state))
    now.state, now.train, now.due = "failed", due.train, None
    say_move(state, now, evidence)
    cause = f"{kind}:{due.train}:{due.call}:{now.move.index}"
    because = witnesses.unheard(state, due, now.move)
    doubt = Doubt(kind, cause, due.train, now.move.vehicle, road, evidence, round(due.out_t, 6), because, due.call)
    state.doubts.setdefault(due.train, []).append(doubt)
    state.touch("freight", due.train)


def _missed(state: State, now: MoveNow, due: Due) -> tuple[str, str, tuple[int, ...]] | None:
    """(kind, road, evidence) where a vehicle that was to be lifted was not."""
    where, move, train = state.where, now.move, state.roster.trains[due.train]
    assert where is not None
    belief = where.belief(move.vehicle)
    with_train = where.leader(move.vehicle) == train.engine
    is_done = belief.place in (move.to_road, OFF)  # what is off the layout, nobody can lift: it is carried over
    if with_train or is_done or is_away(state, move.vehicle, due.station) or another_may_lift(state, move, train):
        return None
    stands = state.railway is not None and state.railway.plant.station_of(belief.place) == due.station
    missed = stands and belief.sure >= KNOWN and witnesses.of_lift(state, due, move)
    return ("lift-missed", move.from_road, belief.evidence) if missed else None


def _carried(state: State, now: MoveNow, due: Due, is_gone: bool) -> tuple[str, str, tuple[int, ...]] | None:
    """(kind, road, evidence) where a vehicle that was to be set out was seen going on with its train: by that both have
    gone, unless it was just drawn out where its train may be shunting."""
    railway, where, move, train = state.railway, state.where, now.move, state.roster.trains[due.train]
    assert railway is not None and where is not None
    belief = where.belief(move.vehicle)
    if where.leader(move.vehicle) != train.engine or belief.by != "seen" or due.of != "set-out":
        return None
    if due.n is not None and where.since(move.vehicle) < due.out_t:
        return None  # it was read before its train went, wherever that was
    around = {belief.place, *(b.throat.partition(".")[0] for b in railway.plant.at_stretch.get(belief.place, ()))}
    is_beyond = (due.section not in around and train.sure_at in (None, due.station)) or train.sure_at not in around
    forgotten = (is_gone or is_beyond) and is_away(state, move.vehicle, due.station)
    return ("set-out-forgotten", move.to_road, belief.evidence) if forgotten else None


def _left(state: State, now: MoveNow, due: Due) -> tuple[str, str, tuple[int, ...]] | None:
    """(kind, road, evidence) where a vehicle that its train had was left elsewhere than booked, or was never lifted."""
    railway, where, move, train = state.railway, state.where, now.move, state.roster.trains[due.train]
    assert railway is not None and where is not None
    belief, lead = where.belief(move.vehicle), where.leader(move.vehicle)
    stands = belief.place in railway.plant.roads and railway.plant.roads[belief.place].station == due.station
    if not stands or belief.place == move.to_road or lead == train.engine:
        return None
    if belief.place == move.from_road:
        is_seen = lead is None and belief.by == "seen" and belief.sure >= PLAIN and last_to_lift(train, move)
        return ("lift-missed", move.from_road, belief.evidence) if is_seen else None
    sure = belief.sure
    if belief.by == "seen":
        sure = where.likely(move.vehicle).get(belief.place, 0.0)  # it was read there: where on the road, does not matter
    if sure < PLAIN:
        return None
    shows_t = witnesses.AT_ONCE if belief.by == "told" else witnesses.of_going_on(state, due, move)
    if state.t < shows_t < witnesses.NOT_YET:
        state.reckoned.set("left", move.vehicle, shows_t)
    return ("wagon-misplaced", belief.place, belief.evidence) if state.t >= shows_t else None


def _unbooked(state: State, train: Train) -> None:
    """Vehicles that no row names and that went with the train, and those that it left where no row has them stay."""
    where = state.where
    assert where is not None
    numbers = state.freight.unbooked_n[train.id] = []
    for vehicle, shifted in state.freight.shifted.pop(train.id, {}).items():
        stayed = shifted.left_on is not None and where.leader(vehicle) is None and where.place(vehicle) == shifted.left_on
        if stayed and not shifted.set_out_n and shifted.left_on is not None:
            numbers.append(say_left(state, train, vehicle, shifted.left_on))
        if shifted.lifted_n or shifted.set_out_n or vehicle in train.brought or where.leader(vehicle) != train.engine:
            continue
        now = open_move(state, vehicle)
        if now is not None and now.state == "booked" and serves(state, now.move, train, train.station or ""):
            lift(state, now, train, vehicle, None)
            state.freight.shifted.pop(train.id, None)
        elif now is None or now.state == "booked":
            keys = {
                "vehicle": vehicle,
                "road": shifted.road,
                "train": train.id,
                "booked": False,
                "sure": sure_of(state, vehicle),
            }
            if shifted.road in (state.railway.plant.roads if state.railway else ()):
                numbers.append(state.ledger.say("lifted", keys, where.belief(vehicle).evidence))


def came_back(state: State, train: Train, why: str, n: int | None) -> None:
    """The departure was none: what it seemed to show is taken back."""
    for doubt in state.doubts.pop(train.id, []):
        state.ledger.withdraw(doubt.cause, why, (n,))
    for said_n in state.freight.unbooked_n.pop(train.id, []):
        state.ledger.correct(said_n, why, (n,))
    state.freight.unsaid.pop(train.id, None)
    for now in _rows(state, train):
        now.due = None if now.due is not None and now.due.train == train.id else now.due
    for index, before in state.freight.at_departure.pop(train.id, []):
        now = state.freight.moves[index]
        if now.state == "failed":
            now.state = before
            say_move(state, now, (n,))
    state.touch("freight", train.id)


def train_came(state: State, train: Train) -> None:
    """A train is at its next call: nothing has been shifted there yet."""
    state.freight.shifted.pop(train.id, None)


def train_ended(state: State, train: Train, is_cancelled: bool) -> None:
    """A working is over: what its last departure showed is past, and what its last call left undone shows now, unless it was
    cancelled there."""
    state.doubts.pop(train.id, None)
    state.freight.unsaid.pop(train.id, None)
    if train.working is not None and not is_cancelled and not all_done(state, train):
        _set_due(state, train, train.station or "", train.section or "", state.t, state.journal_n or None)
        for now in _rows(state, train):
            if now.due is not None and now.due.train == train.id:
                _judge(state, now, now.due)
    unbooked.train_ended(state, train, state.freight.shifted.get(train.id, {}))
    state.touch("freight", train.id)


def carry_over(state: State) -> None:
    """At the end: what stands where it was booked is set out, and what was not done is carried over."""
    where = state.where
    assert where is not None
    for now in state.freight.moves:
        train = state.roster.trains.get(now.train or "")
        vehicle, road = now.move.vehicle, now.move.to_road
        if now.state == "in-train" and train is not None and where.place(vehicle) == road != where.place(train.engine):
            set_out(state, now, train, vehicle, road, None)
        if now.state in ("booked", "in-train"):
            now.state = "carried-over"
            say_move(state, now, ())
