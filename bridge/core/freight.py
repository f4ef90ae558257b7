"""Freight moves: what each working was to lift and set out, and what became of it.

Rule: a vehicle is lifted when it goes with an engine, set out when the engine is seen elsewhere without it; one drawn out
and put back on its road in the same call was neither. A move is missed only at the last call that could have done it.
What the departure shows is kept as `Doubt`s, which `bridge.core.rules.freight` claims from.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bridge.core.facts import Doubt
from bridge.core.plan import Move
from bridge.core.presence import Presence
from bridge.core.trains import Phase, Train, calls_at
from bridge.core.whereabouts import OFF, Joined, Left

if TYPE_CHECKING:
    from bridge.core.state import State

PLAIN = 0.95  # from here a thing is said plainly
LIKELY = 0.6  # from here with "probably"; below nothing is built on it


@dataclass(slots=True)
class MoveNow:
    """One row of moves.csv as it stands: `state` as in the contract; `train` has it, or did it."""

    move: Move
    state: str = "booked"
    train: str | None = None
    sure: float = 1.0
    said_n: int = 0


@dataclass(slots=True)
class Shifted:
    """A vehicle that joined or left a train at this call: whence it joined, where it was left unbooked,
    and the numbers of what was said of it."""

    road: str
    lifted_n: int = 0
    set_out_n: int = 0
    left_on: str | None = None


@dataclass
class Freight:
    """All moves, the rows of each vehicle and working, and what each train has shifted at its present call."""

    moves: list[MoveNow] = field(default_factory=list)
    of_vehicle: dict[str, list[int]] = field(default_factory=dict)
    of_working: dict[str, list[int]] = field(default_factory=dict)
    shifted: dict[str, dict[str, Shifted]] = field(default_factory=dict)
    at_departure: dict[str, list[tuple[int, str]]] = field(default_factory=dict)
    unbooked_n: dict[str, list[int]] = field(default_factory=dict)


def prepare(state: State) -> None:
    """Take the rows of the plan; those of a rake that stands ready count as lifted."""
    railway = state.railway
    assert railway is not None
    for move in railway.moves:
        now = MoveNow(move, train=move.working)
        working = railway.workings.get(move.working or "")
        if working is not None and move.vehicle in working.rake and move.from_road == working.calls[0].road:
            now.state, now.train = "in-train", working.id
        state.freight.moves.append(now)
        state.freight.of_vehicle.setdefault(move.vehicle, []).append(move.index)
        for each in [move.working] if move.working is not None else list(railway.workings):
            state.freight.of_working.setdefault(each, []).append(move.index)


def say_all(state: State) -> None:
    """At `begin`: each row, booked or in its train."""
    for now in state.freight.moves:
        _say_move(state, now, ())


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
    if move.working is not None and move.working != train.working.id:
        return False
    if move.working is None:
        named = {c.station for c in train.working.calls}
        if {move.from_road.partition(".")[0], move.to_road.partition(".")[0]} - named:
            return False
    return True


def last_chance(train: Train, station: str, call: int | None) -> bool:
    """True where the train's present call is the last at a station that could do a row (`call` counts them from 1)."""
    if train.working is None:
        return False
    calls = list(calls_at(train.working, station))
    if call is not None and 0 < call <= len(calls):
        return train.call >= calls[call - 1].index
    return not calls or train.call >= calls[-1].index


def stays(state: State, vehicle: str, engine: str) -> bool:
    """True where a row books a vehicle to stay at the station where this engine's train is."""
    train = state.roster.current(engine)
    now = open_move(state, vehicle)
    if train is None or now is None or train.station is None:
        return False
    station = now.move.to_road.partition(".")[0]
    return now.state == "in-train" and station == train.station and serves(state, now.move, train, station)


def wanted(state: State, vehicle: str) -> str | None:
    """The engine of a train at this vehicle's station that is booked to lift it."""
    now = open_move(state, vehicle)
    if now is None or now.state != "booked":
        return None
    station = now.move.from_road.partition(".")[0]
    for train in state.roster.trains.values():
        if train.phase in (Phase.AT_STATION, Phase.OUT) and serves(state, now.move, train, station):
            return train.engine
    return None


def outstanding(state: State, train: Train) -> bool:
    """True where a row that this call is to do is not done."""
    if train.working is None or train.station is None:
        return False
    for index in state.freight.of_working.get(train.working.id, ()):
        now = state.freight.moves[index]
        move = now.move
        here = now.state == "booked" and move.from_road.partition(".")[0] == train.station
        if here and serves(state, move, train, train.station) and open_move(state, move.vehicle) is now:
            return True
        if now.state == "in-train" and now.train == train.id and move.to_road.partition(".")[0] == train.station:
            return True
    return False


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
        _lift(state, now, train, change.vehicle, change.n)


def _lift(state: State, now: MoveNow, train: Train, vehicle: str, n: int | None) -> None:
    sure = _sure(state, vehicle)
    if sure < LIKELY:
        return
    now.state, now.train, now.sure = "in-train", train.id, sure
    shifted = state.freight.shifted.setdefault(train.id, {}).setdefault(vehicle, Shifted(now.move.from_road))
    keys = {"vehicle": vehicle, "road": now.move.from_road, "train": train.id, "booked": True, "sure": sure}
    evidence = (n, *_evidence(state, vehicle))
    shifted.lifted_n = state.ledger.say("lifted", keys, evidence)
    _say_move(state, now, evidence)
    state.touch("freight", train.id)


def _undo_set_out(state: State, train: Train, vehicle: str, earlier: Shifted, n: int | None) -> None:
    state.ledger.correct(earlier.set_out_n, f"{vehicle} was drawn out again", (n,))
    earlier.set_out_n = 0
    for index in reversed(state.freight.of_vehicle.get(vehicle, [])):
        now = state.freight.moves[index]
        if now.state == "done" and now.train == train.id:
            now.state = "in-train"
            _say_move(state, now, (n,))
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
        _set_out(state, now, train, change.vehicle, change.road, change.n)
    elif shifted is not None and shifted.road == change.road:
        if shifted.lifted_n:
            evidence = (change.n, *_evidence(state, change.vehicle))
            state.ledger.correct(shifted.lifted_n, f"{change.vehicle} was put back", evidence)
            if now is not None and now.state == "in-train":
                now.state, now.train = "booked", now.move.working
                _say_move(state, now, evidence)
        del mine[change.vehicle]
    else:
        shifted = mine.setdefault(change.vehicle, Shifted(OFF))
        shifted.left_on = change.road
        if change.road != train.road:  # on the call's road it is its train's until that has left without it
            shifted.set_out_n = _say_left(state, train, change.vehicle, change.road, change.n)


def _set_out(state: State, now: MoveNow, train: Train, vehicle: str, road: str, n: int | None) -> None:
    sure = _sure(state, vehicle)
    if sure < LIKELY:
        return
    shifted = state.freight.shifted.setdefault(train.id, {}).setdefault(vehicle, Shifted(OFF))
    keys = {"vehicle": vehicle, "road": road, "train": train.id, "booked": True, "sure": sure}
    evidence = (n, *_evidence(state, vehicle))
    shifted.set_out_n = state.ledger.say("set-out", keys, evidence)
    now.sure, now.train = sure, train.id
    now.state = "done" if sure >= PLAIN else now.state
    _say_move(state, now, evidence)
    state.touch("freight", train.id)


# --- trains that leave, come and end


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed: what it forgot, missed or left in the wrong place shows now."""
    state.doubts[train.id], state.freight.at_departure[train.id] = _doubts(state, train, presence.out_t, presence.n)
    _unbooked(state, train)
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
            _say_move(state, now, evidence)
            cause = f"{kind}:{train.id}:{train.call}:{move.index}"
            doubts.append(Doubt(kind, cause, train.id, move.vehicle, road, evidence, round(happened_t, 6)))
    return doubts, failed


def _would_tell(state: State, train: Train, road: str) -> bool:
    """True where a vehicle lifted from a road would have been seen: where its train went out, or because nobody has been at
    the road's mouth, whose readers would have told."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant = railway.plant
    if plant.read_at(f"{train.section}@{train.station}"):
        return True
    mouths = [f"{road}@{end}" for end in plant.roads[road].open]
    return all(plant.read_at(m) and not where.read_since(m, train.arrived_t or 0.0) for m in mouths)


def _judge(state: State, now: MoveNow, train: Train, station: str) -> tuple[str, str, tuple[int, ...]] | None:
    """What a departure shows of one row: (kind, road, evidence), None where nothing is wrong, or not yet."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    move, belief = now.move, where.belief(now.move.vehicle)
    with_train = where.leader(move.vehicle) == train.engine
    from_here, to_here = (road.partition(".")[0] == station for road in (move.from_road, move.to_road))
    if now.state == "booked":
        due = from_here and serves(state, move, train, station) and last_chance(train, station, move.call)
        missed = due and move.working is not None and not with_train and _would_tell(state, train, move.from_road)
        return ("lift-missed", move.from_road, belief.evidence) if missed else None
    if now.train != train.id:
        return None
    if with_train:
        forgotten = belief.by == "seen" and to_here and last_chance(train, station, move.call)
        return ("set-out-forgotten", move.to_road, belief.evidence) if forgotten else None
    left = belief.place in railway.plant.roads and belief.place not in (move.to_road, move.from_road)
    misplaced = left and belief.sure >= PLAIN and railway.plant.roads[belief.place].station == station
    return ("wagon-misplaced", belief.place, belief.evidence) if misplaced else None


def _unbooked(state: State, train: Train) -> None:
    """Vehicles that no row names and that went with the train, and those that it left where no row has them stay."""
    where = state.where
    assert where is not None
    numbers = state.freight.unbooked_n[train.id] = []
    for vehicle, shifted in state.freight.shifted.pop(train.id, {}).items():
        stayed = shifted.left_on is not None and where.leader(vehicle) is None and where.place(vehicle) == shifted.left_on
        if stayed and not shifted.set_out_n and shifted.left_on is not None:
            numbers.append(_say_left(state, train, vehicle, shifted.left_on))
        if shifted.lifted_n or shifted.set_out_n or vehicle in train.brought or where.leader(vehicle) != train.engine:
            continue
        now = open_move(state, vehicle)
        if now is not None and now.state == "booked" and serves(state, now.move, train, train.station or ""):
            _lift(state, now, train, vehicle, None)
            state.freight.shifted.pop(train.id, None)
        elif now is None or now.state == "booked":
            keys = {
                "vehicle": vehicle,
                "road": shifted.road,
                "train": train.id,
                "booked": False,
                "sure": _sure(state, vehicle),
            }
            if shifted.road in (state.railway.plant.roads if state.railway else ()):
                numbers.append(state.ledger.say("lifted", keys, where.belief(vehicle).evidence))


def _say_left(state: State, train: Train, vehicle: str, road: str, n: int | None = None) -> int:
    """A vehicle was left on a road where no row has it stay; 0 where nothing can be built on that."""
    sure = _sure(state, vehicle)
    if sure < LIKELY or state.railway is None or road not in state.railway.plant.roads:
        return 0
    keys = {"vehicle": vehicle, "road": road, "train": train.id, "booked": False, "sure": sure}
    return state.ledger.say("set-out", keys, (n, *_evidence(state, vehicle)))


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
            _say_move(state, now, (n,))
    state.touch("freight", train.id)


def train_came(state: State, train: Train) -> None:
    """A train is at its next call: nothing has been shifted there yet."""
    state.freight.shifted.pop(train.id, None)


def train_ended(state: State, train: Train) -> None:
    """A working is over: what its last departure showed is past, and what its last call left undone shows now."""
    state.doubts.pop(train.id, None)
    if train.working is not None and not all_done(state, train):
        state.doubts[train.id], _ = _doubts(state, train, state.t, state.journal_n or None)
    state.touch("freight", train.id)


def told_set_out(state: State, train: Train, vehicle: str, road: str, n: int) -> None:
    """An operator saw a vehicle set out."""
    now = open_move(state, vehicle)
    mine = state.freight.shifted.setdefault(train.id, {}).get(vehicle)
    if mine is not None and mine.set_out_n:
        return
    if now is not None and now.move.to_road == road:
        if now.state == "booked":
            now.state, now.train = "in-train", train.id
        _set_out(state, now, train, vehicle, road, n)
    elif mine is not None and mine.left_on == road:
        mine.set_out_n = _say_left(state, train, vehicle, road, n)  # on the call's road too: it was seen


def carry_over(state: State) -> None:
    """At the end: what stands where it was booked is set out, and what was not done is carried over."""
    where = state.where
    assert where is not None
    for now in state.freight.moves:
        train = state.roster.trains.get(now.train or "")
        vehicle, road = now.move.vehicle, now.move.to_road
        if now.state == "in-train" and train is not None and where.place(vehicle) == road != where.place(train.engine):
            _set_out(state, now, train, vehicle, road, None)
        if now.state in ("booked", "in-train"):
            now.state = "carried-over"
            _say_move(state, now, ())


def all_done(state: State, train: Train) -> bool:
    """True where nothing of a working's is left to do."""
    if train.working is None:
        return False
    return all(
        state.freight.moves[i].state not in ("booked", "in-train")
        for i in state.freight.of_working.get(train.working.id, ())
        if state.freight.moves[i].move.working == train.working.id or state.freight.moves[i].train == train.id
    )


def _evidence(state: State, vehicle: str) -> tuple[int, ...]:
    where = state.where
    assert where is not None
    return where.belief(vehicle).evidence


def _sure(state: State, vehicle: str) -> float:
    where = state.where
    assert where is not None
    return where.belief(vehicle).sure


def _say_move(state: State, now: MoveNow, evidence: tuple[int | None, ...]) -> None:
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
