"""Trains coming: out of a section at its far end, and on their road.

Rule: who is seen at a station has come there, by whatever way; what nothing has told of is taken from where it is seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection import doubting
from bridge.core.line import divided
from bridge.core.line.behind import section_proof, section_says
from bridge.core.movement import blocked, clearing, gone
from bridge.core.movement.going import back, depart, end_train, gone_unseen
from bridge.core.plan import Call
from bridge.core.plant import Road, RoadKind
from bridge.core.presence import Presence
from bridge.core.readings import far_throat, late_s, stretch_state
from bridge.core.trains import Phase, Train
from bridge.core.wagons import reckoning
from bridge.core.wagons.away import surely_at
from bridge.core.wagons.moves import LIKELY, PLAIN
from bridge.core.whereabouts import Crossing

if TYPE_CHECKING:
    from bridge.core.state import State


COMES_IN_S = 10.0  # from a section end to its road a train takes no longer: common practice, no source


def come_out(state: State, crossing: Crossing, engine: str, section: str, throat: str) -> None:
    """A vehicle has come out of a section, at the far end or back where it went in."""
    where = state.where
    assert where is not None
    rows = [p for p in state.presences.get(section, ()) if p.engine == engine and p.cleared != "complete"]
    if not rows:
        return
    presence = rows[-1]
    if throat == presence.start and presence.out_at is None:
        presence.last_sign_t = max(presence.last_sign_t, crossing.t)
        inside = any(where.leader(v) == engine for v in where.line(section))
        if not inside and (crossing.by == "seen" or not _holds(state, presence)):
            back(state, presence, crossing.n)
        return
    if presence.out_at is None:
        presence.out_at, presence.out_t_far = throat, crossing.t
        divided.comes_out(state, presence, crossing.vehicle)
        state.touch("section", section)
        state.touch("train", presence.train)
    presence.out_sign_t = crossing.t
    if not presence.departed:
        depart(state, presence, state.roster.trains[presence.train])
    if crossing.by == "seen" and not any(where.leader(v) == engine for v in where.line(section)):
        clearing.cleared(state, presence, True, crossing.n)


def _holds(state: State, presence: Presence) -> bool:
    """True where a section still says occupied, and only this train can be meant: what is merely taken to be back is not."""
    assert state.where is not None
    alone = all(p is presence for p in state.presences.get(presence.section, ())) and not state.where.line(presence.section)
    return alone and "occupied" in section_says(state, presence.section)


def try_back(state: State, presence: Presence) -> bool:
    """Whether a train that went out is back at its station, with nothing left in the section: then that was a shunt; or it
    has turned out that it never went."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    has_stayed = _has_stayed(state, presence)
    if has_stayed or (presence.told_clear and not presence.departed):
        back(state, presence, max(where.belief(presence.engine).evidence, default=None), has_stayed=has_stayed)
        return True
    if presence.out_at is not None or not railway.stock[presence.engine].detected:
        return False
    states = section_says(state, presence.section)
    is_clear = bool(states) and all(word == "clear" for word in states)
    inside = any(where.leader(v) == presence.engine for v in where.line(presence.section))
    at_station = railway.plant.station_of(where.place(presence.engine)) == presence.start.partition(".")[0]
    if is_clear and at_station and not inside:
        back(state, presence, section_proof(state, presence.section))
        return True
    return False


def _has_stayed(state: State, presence: Presence) -> bool:
    """True where the engine of a train that counts as departed is surely on a road of the station that it should have left,
    and nothing of the train is held to be in the section, nor does that say occupied."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    train, station = state.roster.trains[presence.train], presence.start.partition(".")[0]
    if not presence.departed or train.phase is not Phase.IN_SECTION or train.section != presence.section:
        return False
    on_road = where.place(presence.engine) in railway.plant.roads
    if not on_road or surely_at(state, presence.engine) != station or "occupied" in section_says(state, presence.section):
        return False
    return not any(where.leader(v) == presence.engine for v in where.line(presence.section))


def on_road(state: State, crossing: Crossing, engine: str) -> None:
    """A vehicle has come on to a road: its train has arrived, if it was on its way."""
    railway = state.railway
    assert railway is not None
    road = railway.plant.roads[crossing.goal]
    station, train = road.station, state.roster.current(engine)
    if train is None:
        return
    if train.phase is Phase.AT_STATION:
        return
    if train.phase not in (Phase.OUT, Phase.IN_SECTION) or train.section is None or train.station == station:
        return
    if crossing.vehicle != engine and not _brings(state, train, engine, station):
        return
    presence = _presence_of(state, train)
    if presence is not None and presence.out_at is None and crossing.start != train.section:
        _come_out_at(state, presence, station)
    if presence is not None and not presence.departed:
        depart(state, presence, train)
    then = train.next_call()
    unseen = road.kind is RoadKind.SIDING and then is not None and then.station == station
    if unseen and then is not None and (railway.plant.is_blind(then.road) or _has_worked(state, train, road)):
        arrive(state, train, then.road, crossing.n)  # it came by its booked road, which has not told
    else:
        arrive(state, train, crossing.goal, crossing.n)


def arrive(state: State, train: Train, road: str, n: int | None) -> None:
    """A train's first vehicle is on a road."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    station = railway.plant.roads[road].station
    gone.look_again(state, train.engine)  # what it left undone where it went out is judged before it counts as come
    call = call_reached(train, station)
    booked = call.road if call is not None else None
    train.phase, train.station, train.road = Phase.AT_STATION, station, road
    train.arrived_t, train.arrivals = state.t, train.arrivals + 1
    if call is not None:
        train.came[call.index] = state.t
    train.late_s = late_s(state, state.t, call.arrive_s if call is not None else None)
    keys = {"train": train.id, "station": station, "road": road, "booked_road": booked, "late": train.late_s}
    state.ledger.say("arrived", keys, (n,))
    mine = set(where.company(train.engine))
    train.brought = frozenset(mine)
    stood = tuple(v for v in where.line(booked) if v not in mine) if booked is not None and booked != road else ()
    tells = mine.issuperset(where.line(road)) and _is_told_by(state, train, road, station)
    wrong = booked is not None and booked != road and (tells or not railway.plant.is_blind(booked))
    train.wrong_road = (road, stood, () if n is None else (n,)) if wrong else None
    train.is_road_sure = wrong and tells
    see_road(state, train.engine)
    state.touch("train", train.id)
    reckoning.train_came(state, train)
    blocked.train_came(state, train)
    doubting.train_came(state, train, road, n)


def see_road(state: State, engine: str) -> None:
    """Where an engine is may have become surer: has its train surely come in on another road than booked? It has where that
    is sure; where the booked road says clear, it need only be likely."""
    train, where = state.roster.current(engine), state.where
    assert where is not None
    if train is None or train.wrong_road is None or train.is_road_sure:
        return
    call = train.this_call()
    road, _, told = train.wrong_road
    is_told = bool(told) and surely_at(state, engine) == road.partition(".")[0]  # something saw it come, and no other
    enough = LIKELY if is_told and call is not None and stretch_state(state, call.road) == "clear" else PLAIN
    if where.likely(engine).get(road, 0.0) >= enough:
        train.is_road_sure = True
        state.touch("train", train.id)


def turn_up(state: State, crossing: Crossing, engine: str) -> None:
    """An engine is at a station: if its train was believed elsewhere, it has gone there without a section end telling."""
    railway = state.railway
    assert railway is not None
    train, station = state.roster.current(engine), railway.plant.station_of(crossing.goal)
    if train is None or station is None or train.station in (None, station) or train.phase is Phase.ENDED:
        return
    if train.phase is Phase.AT_STATION:
        section = railway.plant.section_between(train.station or "", station)
        if section is None:
            return
        throat = section.from_throat if section.from_throat.startswith(f"{train.station}.") else section.to_throat
        presence: Presence | None = gone_unseen(state, train, section, throat, crossing.t, crossing.n)
    else:
        presence = _presence_of(state, train)
    if presence is not None and presence.out_at is None:
        _come_out_at(state, presence, station)
        if presence.out_at is not None and not presence.departed:
            depart(state, presence, train)


def arrive_unseen(state: State, train: Train, station: str, crossing: Crossing) -> None:
    """A train goes on from a station where nothing saw it arrive: it was there, on its booked road as far as is known."""
    if train.section is not None:
        for presence in state.presences.get(train.section, ()):
            if presence.train == train.id and presence.out_at is None:
                presence.out_at = far_throat(state, presence)
                presence.out_sign_t = presence.out_t_far = crossing.t
                if not presence.departed:
                    depart(state, presence, train)
    call = call_reached(train, station)
    if call is not None:
        arrive(state, train, call.road, crossing.n)
    else:
        train.phase, train.station = Phase.AT_STATION, station
        state.touch("train", train.id)


def _brings(state: State, train: Train, engine: str, station: str) -> bool:
    """True where a vehicle that has come on to a road can tell where its train is: its engine is in the section before that
    station, or there. Of one that turns out to stand elsewhere the train had left it there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    place, section = where.place(engine), railway.plant.sections[train.section or ""]
    ends = {throat.partition(".")[0] for throat in (section.from_throat, section.to_throat)}
    return railway.plant.station_of(place) == station or (place == section.id and station in ends)


def _is_told_by(state: State, train: Train, road: str, station: str) -> bool:
    """True where a road that has become occupied tells of this train: its engine is surely at the station, was seen to come
    moments ago, and no other has come in just now, of which the road may tell as well."""
    if stretch_state(state, road) != "occupied" or not _has_just_come(state, train):
        return False
    others = (p for rows in state.presences.values() for p in rows if p.train != train.id and p.out_t_far is not None)
    beside = any(
        p.out_at is not None and p.out_at.partition(".")[0] == station and state.t - (p.out_t_far or 0.0) <= COMES_IN_S
        for p in others
    )
    return surely_at(state, train.engine) == station and not beside


def _has_just_come(state: State, train: Train) -> bool:
    """True where a train was seen to come out of its section moments ago: what it occupies is the road on which it comes."""
    came_t = _came_t(state, train)
    return came_t is not None and 0.0 < state.t - came_t <= COMES_IN_S


def _has_worked(state: State, train: Train, siding: Road) -> bool:
    """True where a train has been on a road of the station before it came to this siding: it came out of its section longer
    ago than it takes to one, or by the end at which this siding is closed."""
    came_t, presence = _came_t(state, train), _presence_of(state, train)
    is_late = came_t is not None and state.t - came_t > COMES_IN_S
    return is_late or (presence is not None and far_throat(state, presence).partition(".")[2] not in siding.open)


def _came_t(state: State, train: Train) -> float | None:
    presence = _presence_of(state, train)
    engine, _, cleared_t = state.came_out.get(train.section or "", ("", "", -1e9))
    return presence.out_t_far if presence is not None else cleared_t if engine == train.engine else None


def call_reached(train: Train, station: str) -> Call | None:
    """The call that a train has come to at a station, made its present one; None where it is booked to none there."""
    if train.working is None:
        return None
    for call in train.working.calls[train.call + 1 :]:
        if call.station == station:
            train.call = call.index
            return call
    return None


def arrive_told(state: State, train: Train, road: str, n: int) -> None:
    """An operator said that a train has come to a road, and nothing else had told of it."""
    railway = state.railway
    assert railway is not None
    station = railway.plant.roads[road].station
    if train.station == station and train.phase is Phase.OUT:
        return
    presence = _presence_of(state, train)
    if presence is not None and presence.out_at is None:
        _come_out_at(state, presence, station)
        if not presence.departed:
            depart(state, presence, train)
    arrive(state, train, road, n)


def _presence_of(state: State, train: Train) -> Presence | None:
    rows = state.presences.get(train.section or "", [])
    return next((p for p in reversed(rows) if p.train == train.id), None)


def _come_out_at(state: State, presence: Presence, station: str) -> None:
    """A train has come out of its section at a station without the section end having told of it."""
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[presence.section]
    for throat in (section.from_throat, section.to_throat):
        if throat.partition(".")[0] == station and throat != presence.start:
            presence.out_at, presence.out_t_far, presence.out_sign_t = throat, state.t, state.t


def cancel(state: State, train: Train) -> None:
    """A working does not run, or no further: what it was to do is carried over, and nothing of it was missed."""
    end_train(state, train, is_cancelled=True)
