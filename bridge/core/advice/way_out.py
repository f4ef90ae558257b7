"""The way out for trains that wait for each other: who can take another road, go first, or set back.

Rule: read from the state, changing nothing. What is proposed first disturbs least: another road at the same station, then
another order than is booked, then setting back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.advice.hindrances import Going
from bridge.core.plant import RoadKind
from bridge.core.trains import Phase, Train

if TYPE_CHECKING:
    from bridge.core.state import State


def standing_on(state: State, road: str, engine: str) -> tuple[str, ...]:
    """The trains of which vehicles stand on a road, but the one of this engine."""
    where = state.where
    assert where is not None
    leads = dict.fromkeys(lead for v in where.line(road) if (lead := where.leader(v)) is not None and lead != engine)
    return tuple(train.id for lead in leads if (train := state.roster.current(lead)) is not None)


def shut_in(state: State, road: str, train: Train) -> tuple[str, ...]:
    """The trains whose engines stand on a road, where that leaves no room for another train beside them."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    there = [v for v in where.line(road) if where.leader(v) != train.engine]
    length_mm = sum(railway.stock[v].length_mm for v in {*there, *where.company(train.engine), train.engine})
    found = standing_on(state, road, train.engine) if length_mm > railway.plant.roads[road].length_mm else ()
    return tuple(name for name in found if where.place(state.roster.trains[name].engine) == road)


def free_roads(state: State, station: str, end: str, but: str) -> list[str]:
    """The roads of a station on which trains run, other than one, that are open to an end and on which nothing stands."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    roads = (railway.plant.roads[r] for r in railway.plant.stations[station].roads if r != but)
    running = [r for r in roads if r.kind in (RoadKind.RUNNING, RoadKind.LOOP) and end in r.open]
    return [road.id for road in running if not where.line(road.id)]


def in_the_way(state: State, train: Train) -> tuple[str, ...]:
    """The trains on the road where one that is on its way is to come in, where no other road is free for it."""
    railway, then = state.railway, train.next_call()
    section = railway.plant.sections.get(train.section or "") if railway is not None else None
    if section is None or then is None:
        return ()
    ends = section.throats
    far = next((throat for throat in ends if throat.partition(".")[0] == then.station), None)
    if far is None or free_roads(state, then.station, far.partition(".")[2], then.road):
        return ()
    return shut_in(state, then.road, train)


def of(state: State, trains: tuple[str, ...]) -> str:
    """What to do, where each of these trains waits for the next, and the last for the first."""
    railway = state.railway
    assert railway is not None
    pairs = tuple(zip(trains, (*trains[1:], trains[0]), strict=True))
    for name, then in pairs:
        by_plan = state.waiting.get(name, {}).get(then, False)
        call = None if by_plan else state.roster.trains[name].next_call()
        is_shut_in = call is not None and then in shut_in(state, call.road, state.roster.trains[name])
        road = _another_road(state, state.roster.trains[then]) if is_shut_in else None
        if road is not None:
            return f"Move {then} to {road}, so that {name} can come in."
    for name, then in pairs:
        if state.waiting.get(name, {}).get(then):
            return f"Let {name} go before {then}, against the booked order: agree on it with both crews first."
    for name in trains:
        train = state.roster.trains[name]
        if train.phase is Phase.IN_SECTION and train.station is not None:
            station = railway.plant.stations[train.station].name
            return f"Set {name} back to {station}, whence it came, once its road there is free."
    return f"Set {trains[0]} back, or put it into a siding, so that {trains[-1]} can pass."


def _another_road(state: State, train: Train) -> str | None:
    """A free road at its station that is long enough for a train."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    if train.phase is not Phase.AT_STATION or train.station is None:
        return None
    length_mm = sum(railway.stock[v].length_mm for v in {*where.company(train.engine), train.engine})
    place = where.place(train.engine)
    for road_id in railway.plant.stations[train.station].roads:
        road = railway.plant.roads[road_id]
        if road_id != place and not where.line(road_id) and road.length_mm >= length_mm and road.kind != RoadKind.HEADSHUNT:
            return road_id
    return None


def another_way(state: State, going: Going) -> bool:
    """True where another road of the far station is free for a train's going."""
    return bool(free_roads(state, going.then.station, going.far.partition(".")[2], going.then.road))
