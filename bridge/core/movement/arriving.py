"""Trains on their road: whether what came on to one has brought its train, and whether it is the road that was booked.

Rule: a train has arrived with its first vehicle on a road, if its engine can be there; that it is another than was booked is
sure where that road has told of this train and no other, or where its engine surely is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection import doubting
from bridge.core.movement import blocked, gone
from bridge.core.movement.coming import come_out_at, presence_of
from bridge.core.movement.going import depart
from bridge.core.plan import Call
from bridge.core.plant import Road, RoadKind
from bridge.core.readings import far_throat, late_s, stretch_state
from bridge.core.trains import Phase, Train
from bridge.core.wagons import reckoning
from bridge.core.wagons.away import surely_at
from bridge.core.wagons.moves import LIKELY, PLAIN
from bridge.core.whereabouts import Crossing

if TYPE_CHECKING:
    from bridge.core.state import State


TURNS_S = 5.0  # a train that has come in does not go on sooner than this: common practice, no source
COMES_IN_S = 10.0  # from a section end to its road a train takes no longer: common practice, no source


def on_road(state: State, crossing: Crossing, engine: str) -> None:
    """A vehicle has come on to a road: its train has arrived, if it was on its way."""
    railway = state.railway
    assert railway is not None
    road = railway.plant.roads[crossing.goal]
    station, train = road.station, state.roster.current(engine)
    if train is None:
        return
    if train.phase is Phase.AT_STATION:
        _look_at_road(state, crossing, train, station)
        return
    if train.phase not in (Phase.OUT, Phase.IN_SECTION) or train.section is None or train.station == station:
        return
    if crossing.vehicle != engine and not _brings(state, train, engine, station):
        return
    presence = presence_of(state, train)
    if presence is not None and presence.out_at is None and crossing.start != train.section:
        come_out_at(state, presence, station)
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
    train.brought = frozenset(where.company(train.engine))
    _say_road(state, train, road, booked, n)
    reckoning.train_came(state, train)
    blocked.train_came(state, train)
    doubting.train_came(state, train, road, n)


def _look_at_road(state: State, crossing: Crossing, train: Train, station: str) -> None:
    """The road on which a train came in may turn out to have been another: so soon after nothing moves on from one."""
    came_t, road = train.arrived_t, crossing.goal
    if crossing.vehicle != train.engine or came_t is None or train.station != station or train.road in (None, road):
        return
    if state.t - came_t > TURNS_S:
        return
    state.ledger.correct(train.arrived_n, f"{train.id} came in on {road}", (crossing.n,))
    call = train.this_call()
    booked = call.road if call is not None and call.station == station else None
    train.road = road
    _say_road(state, train, road, booked, crossing.n, happened=round(came_t, 6))


def _say_road(
    state: State, train: Train, road: str, booked: str | None, n: int | None, happened: float | None = None
) -> None:
    """Say on which road a train has arrived, and note where that is not the booked one."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    station, mine = railway.plant.roads[road].station, train.brought
    keys = {"train": train.id, "station": station, "road": road, "booked_road": booked, "late": train.late_s}
    train.arrived_n = state.ledger.say("arrived", keys, (n,), happened)
    stood = tuple(v for v in where.line(booked) if v not in mine) if booked is not None and booked != road else ()
    tells = mine.issuperset(where.line(road)) and _is_told_by(state, train, road, station)
    wrong = booked is not None and booked != road and (tells or not railway.plant.is_blind(booked))
    train.wrong_road = (road, stood, () if n is None else (n,)) if wrong else None
    train.is_road_sure = wrong and tells
    see_road(state, train.engine)
    state.touch("train", train.id)


def see_road(state: State, engine: str) -> None:
    """Where an engine is may have become surer: has its train surely come in on another road than booked? It has where that
    is sure; where the booked road says clear, it need only be likely."""
    train, where = state.roster.current(engine), state.where
    assert where is not None
    if train is None or train.wrong_road is None or train.is_road_sure:
        return
    call = train.this_call()
    road, _, told = train.wrong_road
    station = road.partition(".")[0]
    is_told = bool(told) and surely_at(state, engine) == station and _is_alone(state, train, station)
    enough = LIKELY if is_told and call is not None and stretch_state(state, call.road) == "clear" else PLAIN
    if where.likely(engine).get(road, 0.0) >= enough:
        train.is_road_sure = True
        state.touch("train", train.id)


def arrive_unseen(state: State, train: Train, station: str, crossing: Crossing) -> None:
    """A train goes on from a station where nothing saw it arrive: it was there, on its booked road as far as is known."""
    if train.section is not None:
        for presence in state.presences.get(train.section, ()):
            if presence.train == train.id and presence.out_at is None:
                presence.out_at = far_throat(state, presence)
                presence.out_sign_t = presence.out_t_far = crossing.t
                if not presence.departed:
                    depart(state, presence, train)
    call = _next_call(train, station)
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
    return railway.plant.station_of(place) == station or (place == section.id and station in section.stations)


def _is_told_by(state: State, train: Train, road: str, station: str) -> bool:
    """True where a road that has become occupied tells of this train: its engine is surely at the station, was seen to come
    moments ago, and no other has come in just now, of which the road may tell as well."""
    if stretch_state(state, road) != "occupied" or not _has_just_come(state, train):
        return False
    return surely_at(state, train.engine) == station and _is_alone(state, train, station)


def _is_alone(state: State, train: Train, station: str) -> bool:
    """True where no other train has come into a station just now: what one of them occupies may be the other's road."""
    rows = [p for presences in state.presences.values() for p in presences if p.train != train.id and p.out_at is not None]
    came = [(p.out_at or "", p.out_t_far or 0.0) for p in rows]
    came += [(throat, t) for engine, throat, t in state.came_out.values() if engine != train.engine]
    return not any(at.partition(".")[0] == station and state.t - t <= COMES_IN_S for at, t in came)


def _has_just_come(state: State, train: Train) -> bool:
    """True where a train was seen to come out of its section moments ago: what it occupies is the road on which it comes."""
    came_t = _came_t(state, train)
    return came_t is not None and 0.0 < state.t - came_t <= COMES_IN_S


def _has_worked(state: State, train: Train, siding: Road) -> bool:
    """True where a train has been on a road of the station before it came to this siding: it came out of its section longer
    ago than it takes to one, or by the end at which this siding is closed."""
    came_t, presence = _came_t(state, train), presence_of(state, train)
    is_late = came_t is not None and state.t - came_t > COMES_IN_S
    return is_late or (presence is not None and far_throat(state, presence).partition(".")[2] not in siding.open)


def _came_t(state: State, train: Train) -> float | None:
    presence = presence_of(state, train)
    engine, _, cleared_t = state.came_out.get(train.section or "", ("", "", -1e9))
    return presence.out_t_far if presence is not None else cleared_t if engine == train.engine else None


def call_reached(train: Train, station: str) -> Call | None:
    """The call that a train has come to at a station, made its present one; None where it is booked to none there."""
    call = _next_call(train, station)
    if call is not None:
        train.call = call.index
    return call


def _next_call(train: Train, station: str) -> Call | None:
    """The next call that a train is booked to make at a station."""
    calls = () if train.working is None else train.working.calls[train.call + 1 :]
    return next((call for call in calls if call.station == station), None)


def arrive_told(state: State, train: Train, road: str, n: int) -> None:
    """An operator said that a train has come to a road, and nothing else had told of it."""
    railway = state.railway
    assert railway is not None
    station = railway.plant.roads[road].station
    if train.station == station and train.phase is Phase.OUT:
        return
    presence = presence_of(state, train)
    if presence is not None and presence.out_at is None:
        come_out_at(state, presence, station)
        if not presence.departed:
            depart(state, presence, train)
    arrive(state, train, road, n)
