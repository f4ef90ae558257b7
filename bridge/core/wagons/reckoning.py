"""What a train leaves undone when it departs or ends, and what is carried over at the end.

Rule: a move is missed only at the last call that could have done it, and only where what was not seen would have been seen.
What a departure shows is kept as `Doubt`s, from which `bridge.core.rules.freight` claims; they go when it proves to be none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Doubt
from bridge.core.plan import Move
from bridge.core.presence import Presence
from bridge.core.readings import in_the_dark
from bridge.core.trains import Phase, Train
from bridge.core.wagons import unbooked
from bridge.core.wagons.booked import all_done, another_may_lift, last_to_lift, last_to_set_out, open_move, serves
from bridge.core.wagons.freight import lift, say_left, say_move, set_out, sure_of
from bridge.core.wagons.moves import LIKELY, PLAIN, MoveNow
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed: what it forgot, missed or left in the wrong place shows as soon as it has surely gone."""
    state.doubts[train.id], state.freight.at_departure[train.id] = [], []
    if train.is_gone:
        proved_gone(state, train, presence)
    unbooked.train_left(state, train, presence, state.freight.shifted.get(train.id, {}))
    _unbooked(state, train)
    state.touch("freight", train.id)


def proved_gone(state: State, train: Train, presence: Presence) -> None:
    """A train has surely gone from its call: what it has left undone there is judged."""
    state.doubts[train.id], state.freight.at_departure[train.id] = _doubts(state, train, presence.out_t, presence.n)
    state.touch("freight", train.id)


def _doubts(state: State, train: Train, happened_t: float, n: int | None) -> tuple[list[Doubt], list[tuple[int, str]]]:
    """What a train leaves undone at its present call, shown by number `n`, with the rows that have failed by it and how they
    stood before."""
    doubts: list[Doubt] = []
    failed: list[tuple[int, str]] = []
    station = train.station or ""
    for index in state.freight.of_working.get(train.id, ()) if train.working is not None else ():
        now = state.freight.moves[index]
        move = now.move
        if now.state not in ("booked", "in-train") or open_move(state, move.vehicle) is not now:
            continue
        found = _judge(state, now, train, station)
        if found is not None:
            kind, road, shown = found
            evidence = shown if n is None else tuple(sorted({*shown, n}))
            failed.append((index, now.state))
            now.state, now.train = "failed", train.id
            say_move(state, now, evidence)
            cause = f"{kind}:{train.id}:{train.call}:{move.index}"
            because = _unheard(state, train, move)
            doubts.append(Doubt(kind, cause, train.id, move.vehicle, road, evidence, round(happened_t, 6), because))
    return doubts, failed


def look_again(state: State, vehicle: str) -> None:
    """A vehicle has been seen: where it was to stay behind and goes with its train still, or was taken for lifted and stands
    where it stood, the departure at which it was not read has forgotten or missed it."""
    where, now = state.where, open_move(state, vehicle)
    assert where is not None
    train = None if now is None or now.state != "in-train" else state.roster.trains.get(now.train or "")
    belief = where.belief(vehicle)
    if now is None or train is None or belief.by != "seen" or belief.sure < PLAIN:
        return
    move, lead = now.move, where.leader(vehicle)
    if lead == train.engine and _has_left(train, move.to_road) and last_to_set_out(train, move):
        kind, road = "set-out-forgotten", move.to_road
    elif lead is None and belief.place == move.from_road and _has_left(train, move.from_road) and last_to_lift(train, move):
        kind, road = "lift-missed", move.from_road
    else:
        return
    now.state = "failed"
    say_move(state, now, belief.evidence)
    cause = f"{kind}:{train.id}:{train.call}:{move.index}"
    because = _unheard(state, train, move)
    doubt = Doubt(kind, cause, train.id, vehicle, road, belief.evidence, round(state.t, 6), because)
    state.doubts.setdefault(train.id, []).append(doubt)
    state.touch("freight", train.id)


def _has_left(train: Train, road: str) -> bool:
    """True where a train is under way, or at another station than a road's."""
    return train.phase is Phase.IN_SECTION or (train.phase is Phase.AT_STATION and train.station != road.partition(".")[0])


def _unheard(state: State, train: Train, move: Move) -> tuple[str, ...]:
    """What of the detection could explain what seems to have been left undone."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    ends = [f"{road}@{end}" for road in (move.from_road, move.to_road) for end in plant.roads[road].open]
    ends.append(f"{train.section}@{train.station}")
    return in_the_dark(state, [d for end in ends for d in plant.standing_at.get(end, ())])


def _would_tell(state: State, train: Train, road: str) -> bool:
    """True where a vehicle lifted from a road would have been seen: by two of what can tell, for any one reader misses some.
    They are those where its train went out, those at the road's mouth, where nobody has been, and detectors of the road."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant = railway.plant
    mouths = [f"{road}@{end}" for end in plant.roads[road].open]
    untouched = all(plant.read_at(m) and not where.read_since(m, train.arrived_t or 0.0) for m in mouths)
    return untouched + plant.read_at(f"{train.section}@{train.station}") + (road in plant.covering) > 1


def _judge(state: State, now: MoveNow, train: Train, station: str) -> tuple[str, str, tuple[int, ...]] | None:
    """What a departure shows of one row: (kind, road, evidence), None where nothing is wrong, or not yet."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    move, belief = now.move, where.belief(now.move.vehicle)
    with_train = where.leader(move.vehicle) == train.engine
    from_here, to_here = (road.partition(".")[0] == station for road in (move.from_road, move.to_road))
    if now.state == "booked":
        due = from_here and serves(state, move, train, station) and last_to_lift(train, move)
        is_there = belief.place in (move.to_road, OFF)  # what is off the layout, nobody can lift: it is carried over
        missed = due and not (with_train or is_there or another_may_lift(state, move, train))
        missed = missed and belief.sure >= LIKELY and _would_tell(state, train, move.from_road)
        return ("lift-missed", move.from_road, belief.evidence) if missed else None
    if now.train != train.id:
        return None
    if with_train:
        forgotten = belief.by == "seen" and to_here and last_to_set_out(train, move)
        return ("set-out-forgotten", move.to_road, belief.evidence) if forgotten else None
    left = belief.place in railway.plant.roads and belief.place not in (move.to_road, move.from_road)
    sure = belief.sure
    if belief.by == "seen":
        sure = where.likely(move.vehicle).get(belief.place, 0.0)  # it was read there: where on the road, does not matter
    misplaced = left and sure >= PLAIN and railway.plant.roads[belief.place].station == station
    return ("wagon-misplaced", belief.place, belief.evidence) if misplaced else None


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
    if train.working is not None and not is_cancelled and not all_done(state, train):
        state.doubts[train.id], _ = _doubts(state, train, state.t, state.journal_n or None)
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
