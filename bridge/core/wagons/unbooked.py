"""Wagons that are moved though no move or rake names them: by a train, as its departure shows, or by a hand.

Rule: what a train shunts aside and puts back was not moved, so a train is judged when it departs or ends. A hand is told of
where no engine can have been: a wagon is read elsewhere, and the readers at all ends of the road on which it stood have read
nothing since it came there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.facts import ByHand, Doubt
from bridge.core.trains import Train
from bridge.core.wagons.moves import PLAIN

if TYPE_CHECKING:
    from bridge.core.presence import Presence
    from bridge.core.state import State
    from bridge.core.wagons.moves import Shifted

KIND = "wagon-unbooked"
HEARD_S = 10.0  # so long after the beginning of a session every board has been heard


def begin(state: State) -> None:
    """The session begins: where the wagons stand that nothing names."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    named = {v for working in railway.workings.values() for v in working.rake} | set(state.freight.of_vehicle)
    for vehicle in railway.stock.values():
        place = where.place(vehicle.id)
        if place in railway.plant.roads and vehicle.kind != "engine" and vehicle.id not in named:
            state.at_home[vehicle.id] = (place, state.t)


def is_named(state: State, vehicle: str) -> bool:
    """True for engines, and for what a row of moves.csv or a rake names."""
    railway = state.railway
    assert railway is not None
    named = vehicle in state.freight.of_vehicle or any(vehicle in working.rake for working in railway.workings.values())
    return named or railway.stock[vehicle].kind == "engine"


def look_at(state: State, vehicle: str) -> None:
    """A wagon's place has changed: was it read where no engine can have taken it?"""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    belief = where.belief(vehicle)
    if belief.sure < PLAIN or (belief.place not in railway.plant.roads and belief.by != "seen"):
        return
    home, since_t = state.at_home.get(vehicle, (belief.place, state.t))
    if belief.place == home:
        return
    is_new = belief.by == "seen" and vehicle not in state.by_hand and not is_named(state, vehicle)
    if is_new and _none_has_come(state, home, since_t):
        cause = f"hand:{vehicle}:{state.t:.6f}"
        state.by_hand[vehicle] = ByHand(cause, home, belief.place, state.t, belief.evidence)
        state.touch("by-hand", vehicle)
    if belief.place in railway.plant.roads:
        state.at_home[vehicle] = (belief.place, state.t)
    else:
        state.at_home.pop(vehicle, None)


def _none_has_come(state: State, road: str, since_t: float) -> bool:
    """True where a reader at each open end of a road has been heard all the while, and has read nothing."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    plant = railway.plant
    if road not in plant.roads:
        return False
    for end in plant.roads[road].open:
        mouth = f"{road}@{end}"
        rows = [conditioning.detectors[d.id] for d in plant.standing_at.get(mouth, ()) if plant.read_at(mouth)]
        heard = bool(rows) and all(now.state == "heard" and now.lasts_t <= since_t + HEARD_S for now in rows)
        if not heard or where.read_since(mouth, since_t):
            return False
    return True


def _unread(state: State, train: Train, n: int) -> str | None:
    """The one vehicle that came with a train and has a tag, and has not been read since it went out, shown by journal number
    `n`; None where there is none such, or more than one."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    mine = [v for v in sorted(train.brought) if v != train.engine and railway.stock[v].tags]
    beliefs = {v: where.belief(v) for v in mine}
    unread = [v for v, held in beliefs.items() if held.by != "seen" or max(held.evidence, default=0) < n]
    return unread[0] if len(unread) == 1 else None


def train_left(state: State, train: Train, presence: Presence, shifted: Mapping[str, Shifted]) -> None:
    """A train has departed: what it has taken along or put elsewhere, though nothing names it. What was read in it as it
    went out stays told of, and in whose place it may be."""
    where = state.where
    assert where is not None
    for vehicle in where.company(train.engine):
        found = state.by_hand.get(vehicle)
        if found is not None and found.t >= presence.out_t:
            state.by_hand[vehicle] = replace(found, unread=_unread(state, train, presence.n or 0))
            state.touch("by-hand", vehicle)
        else:
            _forget(state, vehicle)
    _shown(state, train, shifted, presence.out_t)


def train_ended(state: State, train: Train, shifted: Mapping[str, Shifted]) -> None:
    """A working is over: what it has taken along or put elsewhere, though nothing names it."""
    where = state.where
    assert where is not None
    for vehicle in where.company(train.engine):
        _forget(state, vehicle)
    _shown(state, train, shifted, state.t)


def _forget(state: State, vehicle: str) -> None:
    if state.by_hand.pop(vehicle, None) is not None:
        state.touch("by-hand", vehicle)


def _shown(state: State, train: Train, shifted: Mapping[str, Shifted], happened_t: float) -> None:
    """What a train has moved, though nothing names it, is told of unless a hand is told of for it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for vehicle, row in shifted.items():
        belief = where.belief(vehicle)
        is_with = where.leader(vehicle) == train.engine
        is_known = belief.sure >= PLAIN and (belief.by == "seen" or not is_with)
        moved = is_with or (belief.place in railway.plant.roads and belief.place != row.road)
        from_road = row.road in railway.plant.roads and vehicle not in train.brought
        if from_road and moved and is_known and vehicle not in state.by_hand and not is_named(state, vehicle):
            cause = f"{KIND}:{train.id}:{train.call}:{vehicle}"
            place = belief.place if not is_with else ""
            evidence, road = belief.evidence, place or row.road
            doubt = Doubt(KIND, cause, train.id, vehicle, road, evidence, round(happened_t, 6), (), train.call)
            state.doubts.setdefault(train.id, []).append(doubt)
            state.touch("freight", train.id)
