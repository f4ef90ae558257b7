"""Booked roads that are taken: foretold as a session begins, and a caution once a train is on its way there.

Rule: a note until it is due; due when the train has surely departed from its call before, and for one that has yet to stand
at its first call ten session minutes before it leaves. What could still be taken away by an engine there is a caution only
once it has stood so for a minute, and so is what only a throat's detector tells of. What has come on to the road since the
train went out, and was not seen there itself, may be that train.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Blocked
from bridge.core.plan import Call
from bridge.core.presence import Presence
from bridge.core.readings import limit
from bridge.core.trains import Phase, Train
from bridge.core.wagons import in_the_way
from bridge.core.wagons.freight import evidence_of

if TYPE_CHECKING:
    from bridge.core.state import State

STOOD_S = 60.0  # the contract's
BEFORE_S = 600.0  # the contract's, where the railway has no limit of its own


def look_ahead(state: State) -> None:
    """At `begin`: whose booked roads are taken by what nobody is booked to take away before."""
    for train in state.roster.trains.values():
        for call in train.working.calls if train.working is not None else ():
            if call.index > 0 or (train.phase is Phase.TO_COME and not _is_there(state, train, call)):
                one = Blocked(train.id, call.index, call.road, None)
                found = in_the_way.vehicles(state, train, call, None)
                if found:
                    _keep(state, one)
                    _say(state, one, found, (), is_note=True)
            if call.index == 0 and train.phase is Phase.TO_COME and call.depart_s is not None:
                state.timed.set("blocked", train.id, call.depart_s - limit(state, "due_before", BEFORE_S))


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed: the road where it is booked next is to be free."""
    railway, then = state.railway, train.next_call()
    assert railway is not None
    _forget(state, train, upto=train.call)
    section = railway.plant.sections[presence.section]
    far = section.to_throat if presence.start == section.from_throat else section.from_throat
    if then is not None and then.station == railway.plant.throats[far].station:
        _await(state, train, then, far, presence.n)


def come_due(state: State, train_id: str) -> None:
    """A train is soon to leave the road of its first call, and its engine does not stand ready there."""
    train = state.roster.trains[train_id]
    call = train.working.calls[0] if train.working is not None else None
    if call is not None and train.phase is Phase.TO_COME and not _is_there(state, train, call):
        _await(state, train, call, None, None)


def train_came(state: State, train: Train) -> None:
    """A train is at a call: what was in its way there is no more."""
    _forget(state, train, upto=train.call)


def came_back(state: State, train: Train) -> None:
    """The departure was none: what is in its way where it is to go next is due no more."""
    then = train.next_call()
    one = None if then is None else state.blocked.get(_key(train, then))
    if one is not None:
        one.due = False
        _look(state, one)


def train_ended(state: State, train: Train) -> None:
    """A working is over."""
    _forget(state, train, upto=len(train.working.calls) if train.working is not None else 0)


def stir(state: State, stretch: str) -> None:
    """Something was seen on a stretch, or changed there."""
    for key in state.awaited.get(stretch, ()):
        state.unsettled[key] = None


def moved(state: State, vehicle: str) -> None:
    """What is believed of a vehicle has changed."""
    where = state.where
    assert where is not None
    stir(state, where.place(vehicle))
    for key in state.hindering.get(vehicle, ()):
        state.unsettled[key] = None
    train = state.roster.current(where.leader(vehicle) or vehicle)
    then = train.next_call() if train is not None else None
    if train is not None and then is not None and _key(train, then) in state.blocked:
        state.unsettled[_key(train, then)] = None  # it may surely have gone now


def after(state: State) -> None:
    """Once an event is digested: what has come into the way of whom, or gone out of it."""
    while state.unsettled:
        key = next(iter(state.unsettled))
        del state.unsettled[key]
        if key in state.blocked:
            _look(state, state.blocked[key])


def pass_deadline(state: State) -> None:
    """What has stood in the way for a minute by now."""
    while (found := state.blocking.pop(state.t)) is not None:
        state.unsettled[found[1][1]] = None


def due(state: State) -> float | None:
    """The next such moment."""
    return state.blocking.first()


def _await(state: State, train: Train, call: Call, throat: str | None, n: int | None) -> None:
    """What is in a train's way at a call is a caution from now on, by number `n`."""
    one = state.blocked.get(_key(train, call)) or Blocked(train.id, call.index, call.road, None)
    one.due, one.throat = True, throat
    one.evidence = tuple(sorted({*one.evidence, n})) if n is not None else one.evidence
    _keep(state, one)
    _look(state, one)


def _look(state: State, one: Blocked) -> None:
    """Who is in the way now, and for how long?"""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    train = state.roster.trains[one.train]
    assert train.working is not None
    call = train.working.calls[one.call]
    there = in_the_way.vehicles(state, train, call, one.throat)
    has_left = train.phase in (Phase.OUT, Phase.IN_SECTION)
    if not one.due or (has_left and not train.is_gone):
        _say(state, one, tuple(v for v in there if v in one.vehicles), (), is_note=True)
        return
    wait_s = STOOD_S if in_the_way.could_be_moved(state, call.station) else 0.0
    there = tuple(v for v in there if not (has_left and _may_be_itself(state, train, v)))
    ripe_at = {v: where.since(v) + wait_s for v in there}
    seen = in_the_way.detectors(state, train, one.throat, one.detectors)
    ripe_at |= {d: conditioning.detectors[d].lasts_t + STOOD_S for d in seen}
    ripe = [name for name, t in ripe_at.items() if round(t, 6) <= state.t]
    later = [t for t in ripe_at.values() if round(t, 6) > state.t]
    if later:
        state.blocking.set("blocked", _key(train, call), min(later))
    noted = one.level == "note" and not ripe
    _say(
        state,
        one,
        tuple(v for v in there if v in ripe or (noted and v in one.vehicles)),
        tuple(d for d in seen if d in ripe),
        is_note=noted,
    )


def _may_be_itself(state: State, train: Train, vehicle: str) -> bool:
    """True for what is held to have come on to a train's road since that went out, and was not seen there: what tells of it
    there may tell of the train."""
    where = state.where
    assert where is not None
    rows = state.presences.get(train.section or "", ())
    out_t = next((p.out_t for p in reversed(rows) if p.train == train.id), state.t)
    return where.since(vehicle) > out_t and where.belief(vehicle).by not in ("seen", "told")


def _say(state: State, one: Blocked, there: tuple[str, ...], seen: tuple[str, ...], is_note: bool) -> None:
    """Keep what is in the way now; another time is another item."""
    if not (there or seen):
        one.cause = ""
    elif not one.cause:
        one.cause = f"blocked:{one.train}:{one.call}:{state.t:.6f}"
        told = {n for v in there for n in evidence_of(state, v)} | _numbers(state, seen)
        one.evidence = tuple(sorted({*one.evidence, *told}))
    _hinder(state, one, there)
    one.detectors, one.level = seen, "note" if is_note else "caution"
    state.touch("blocked", f"{one.train}:{one.call}")
    if not one.cause and not one.due:
        _drop(state, one)


def _hinder(state: State, one: Blocked, there: tuple[str, ...]) -> None:
    """Keep which vehicles are in the way, so that who of them moves is looked at."""
    key = f"{one.train}:{one.call}"
    for vehicle in one.vehicles:
        state.hindering.get(vehicle, {}).pop(key, None)
    for vehicle in there:
        state.hindering.setdefault(vehicle, {})[key] = None
    one.vehicles = there


def _numbers(state: State, seen: tuple[str, ...]) -> set[int]:
    conditioning = state.conditioning
    assert conditioning is not None
    return {n for d in seen if (n := conditioning.detectors[d].evidence) is not None}


def _is_there(state: State, train: Train, call: Call) -> bool:
    where = state.where
    assert where is not None
    return where.place(train.engine) == call.road


def _key(train: Train, call: Call) -> str:
    return f"{train.id}:{call.index}"


def _keep(state: State, one: Blocked) -> None:
    key = f"{one.train}:{one.call}"
    state.blocked[key] = one
    for stretch in (one.road, one.throat) if one.throat is not None else (one.road,):
        state.awaited.setdefault(stretch, {})[key] = None


def _drop(state: State, one: Blocked) -> None:
    key = f"{one.train}:{one.call}"
    _hinder(state, one, ())
    state.blocked.pop(key, None)
    state.blocking.drop("blocked", key)
    for stretch in (one.road, one.throat):
        state.awaited.get(stretch or "", {}).pop(key, None)
    state.touch("blocked", key)


def _forget(state: State, train: Train, upto: int) -> None:
    """Calls that a train has come to, or passed."""
    for call in train.working.calls[: upto + 1] if train.working is not None else ():
        one = state.blocked.get(_key(train, call))
        if one is not None:
            _drop(state, one)
