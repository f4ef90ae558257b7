"""Whether a train that counts as departed has surely gone: what its departure shows is said only then.

Rule: a departure is held to be one as soon as nothing speaks against it; that another engine may have gone in its place, or
that it only shunts, is ruled out when its engine is surely elsewhere, or when somebody has told of it. Once sure it stays
so until the train next departs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.movement import early
from bridge.core.presence import Presence
from bridge.core.readings import far_throat, limit
from bridge.core.trains import Phase, Train
from bridge.core.wagons import reckoning
from bridge.core.wagons.away import is_away, surely_at
from bridge.core.wagons.moves import LIKELY

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence, was_told: bool) -> None:
    """A train has departed."""
    train.left, train.left_n, train.left_from = presence.start.partition(".")[0], presence.n or 0, train.sure_at
    train.away_t = state.t if is_away(state, train.engine, train.left) else None
    train.is_gone = was_told or _has_gone(state, train, presence)


def train_ended(train: Train) -> None:
    """A working is over: what it leaves undone shows, wherever its engine is."""
    train.is_gone = True


def look_again(state: State, vehicle: str) -> None:
    """What is believed of a vehicle may have changed: is the train with which it goes surely gone now?"""
    where = state.where
    assert where is not None
    train = state.roster.current(where.leader(vehicle) or vehicle)
    if train is not None and train.engine == vehicle:
        train.sure_at = surely_at(state, vehicle) or train.sure_at
    if train is None or train.is_gone or train.left is None or train.phase is Phase.OUT:
        return  # where it goes out anew, that departure will show
    is_engine_away = is_away(state, train.engine, train.left)
    train.away_t = (train.away_t or state.t) if is_engine_away else None
    presence = next((p for p in reversed(state.presences.get(train.section or "", ())) if p.train == train.id), None)
    if _has_gone(state, train, presence):
        train.is_gone = True
        early.proved_gone(state, train)
        reckoning.proved_gone(state, train)


def _has_gone(state: State, train: Train, presence: Presence | None) -> bool:
    """True where an engine that has surely been at the station that its train has left (or at another since) is surely away
    from it, and does not merely shunt: what goes with it is probably away too, or it has come out elsewhere, or nothing was
    heard of it for long; and nothing of its train has been seen at that station since."""
    where, station = state.where, train.left or ""
    assert where is not None
    was_there = train.left_from in (None, station) or train.sure_at not in (None, station, train.left_from)
    if not was_there or not is_away(state, train.engine, station) or _is_seen_there(state, train, station):
        return False
    if presence is not None and (_was_not_heard_to_go(state, train, presence) or _may_shunt(state, presence)):
        return False
    if (
        presence is None
        or presence.out_at is not None
        or all(is_away(state, v, station, LIKELY) for v in where.company(train.engine))
    ):
        return True
    return state.t >= round(presence.last_sign_t + limit(state, "out_after", 20.0), 6)


def _was_not_heard_to_go(state: State, train: Train, presence: Presence) -> bool:
    """True for a train that is only taken to have gone, for it to be where something was seen, and has passed no treadle by
    which it would have gone: it was another that was seen."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    if not presence.cause.startswith("unseen:") or where.belief(train.engine).by in ("seen", "told"):
        return False
    at = f"{presence.section}@{railway.plant.throats[presence.start].station}"
    treadles = [d for d in railway.plant.standing_at.get(at, ()) if d.sees in ("any", "engine")]
    return bool(treadles) and state.trodden_at.get(presence.start, -1e9) < (train.arrived_t or 0.0)


def goes_alone(state: State, presence: Presence) -> bool:
    """True where what a train brought is held to have yet to come to the station as its engine goes out: it is not known to
    go with that, which may shunt."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    places = [where.place(v) for v in where.company(presence.engine)[1:]]
    ahead = {presence.section, far_throat(state, presence)}
    return any(place in railway.plant.sections and place not in ahead for place in places)


def _may_shunt(state: State, presence: Presence) -> bool:
    """True for an engine that went out without what it brought as far as is known: some of it has still to come, or nothing
    of it has been read going in."""
    where = state.where
    assert where is not None
    if presence.out_at is not None or not presence.goes_alone:
        return False
    if goes_alone(state, presence):
        return True
    mine = [v for v in where.company(presence.engine)[1:] if where.place(v) == presence.section]
    return not any(where.belief(v).by == "seen" for v in mine)


def _is_seen_there(state: State, train: Train, station: str) -> bool:
    """True where something of its train has been read at the station since it went out: its engine may shunt it there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    rows = [state.freight.moves[index] for index in state.freight.of_working.get(train.id, ())]
    for vehicle in {*train.brought, *(now.move.vehicle for now in rows if now.train == train.id)}:
        belief = where.belief(vehicle)
        is_here = belief.by == "seen" and railway.plant.station_of(belief.place) == station
        if is_here and max(belief.evidence, default=0) >= train.left_n:
            return True
    return False
