"""Occupations that no train can have caused: something rolls away, or stands where nobody put it.

Rule: only what a board reports as it happens counts, on a track that was clear before: what was unknown, a short circuit or
a board that is back is no occupation. A train can be the cause as long as nothing proves that it cannot have come there: by
a throat that has been clear all the while no train comes, and an engine that alone keeps its road occupied stands on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.facts import Astray
from bridge.core.line import plainly
from bridge.core.plant import DetectorKind, RoadKind
from bridge.core.readings import limit
from bridge.core.trains import Phase

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State

AGREES_S = 2.0  # what tells of the same thing tells so soon: a vehicle is over a section end in that time
PASSED_S = 20.0  # who has left a throat so shortly before may be what is seen beyond it
BESIDE_S = 10.0  # what was seen to come there within so long of the occupation may be what occupies it
FOUND_S = 5.0  # a train that is seen to go in so soon after it was the cause: its first vehicles have passed unread
STATED_S = 3.0  # boards that are back have said by then what is clear: common practice, no source
UNLIKELY = 0.02  # where a vehicle is less likely than this it is not


def before(state: State, seen: Observation) -> None:
    """A track counts as clear: who was held to stand on it until now may do so still, and be felt again. An engine was read:
    it was there, whatever comes to be held of it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    detector, engine = railway.plant.detectors[seen.detector], where.vehicle_of(seen.tag or "")
    boundary = railway.plant.boundaries.get(detector.at or "")
    if boundary is not None and seen.moves:
        state.passed_at[boundary.throat] = seen.t
        if seen.tag is None:
            state.trodden_at[boundary.throat] = seen.t
        if engine is not None and railway.stock[engine].kind == "engine":
            state.read_last[engine] = (boundary.throat, seen.t)
            state.may_have_gone.pop(engine, None)
    stretch = detector.covers
    if seen.state == "clear" and stretch is not None and _is_watched(state, stretch):
        state.stood[stretch] = tuple(where.line(stretch))


def observe(state: State, seen: Observation) -> None:
    """One observation: does something occupy what was clear, or tell of what does?"""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    detector = railway.plant.detectors[seen.detector]
    stretch = railway.plant.stretch_of(detector)
    if stretch is None or not _is_watched(state, stretch):
        return
    if detector.kind is not DetectorKind.TRACK:
        if seen.moves and (seen.tag is not None or not _is_read_at(state, detector.at or "")):
            state.told_of[stretch] = (seen.t, seen.n)
    elif seen.state == "clear":
        state.was_clear[seen.detector] = seen.t
    elif not conditioning.detectors[seen.detector].lapsed:
        clear = state.was_clear.pop(seen.detector, None)
        if seen.state == "occupied" and clear is not None and seen.moves and state.running:
            state.suspects.setdefault(
                stretch, Astray(f"astray:{stretch}:{seen.t:.6f}", stretch, seen.detector, seen.t, seen.n)
            )
    if stretch in state.suspects or stretch in state.astray:
        state.unexplained[stretch] = None


def after(state: State) -> None:
    """Once an event is digested: what is suspected is judged, and what was found is looked at again."""
    for stretch in list(state.unexplained):
        if stretch in state.astray:
            _look_again(state, state.astray[stretch])
        elif stretch in state.suspects:
            _judge(state, state.suspects[stretch])
    state.unexplained.clear()


def pass_deadline(state: State) -> None:
    """What is suspected has lasted."""
    while (found := state.lasting.pop(state.t)) is not None:
        _, (_, stretch, _, _) = found
        state.unexplained[stretch] = None
    after(state)


def due(state: State) -> float | None:
    """The next moment at which something will have lasted."""
    return state.lasting.first()


def vehicles(state: State, found: Astray) -> tuple[str, ...]:
    """The vehicles that came there when it was occupied, without an engine."""
    where = state.where
    assert where is not None
    there = where.line(found.stretch)
    return tuple(v for v in there if where.leader(v) not in there and where.since(v) >= found.t - BESIDE_S)


def _is_read_at(state: State, boundary: str) -> bool:
    """True where a reader stands: of what passes a treadle there it will tell at once who it is."""
    railway = state.railway
    assert railway is not None
    return bool(railway.plant.read_at(boundary))


def _is_watched(state: State, stretch: str) -> bool:
    """True for sections and running roads."""
    railway = state.railway
    assert railway is not None
    road = railway.plant.roads.get(stretch)
    return stretch in railway.plant.sections or (road is not None and road.kind is RoadKind.RUNNING)


def _judge(state: State, suspect: Astray) -> None:
    conditioning = state.conditioning
    assert conditioning is not None
    now = conditioning.detectors[suspect.detector]
    if now.state == "unknown" and not now.muted:
        return  # its board has yet to say how it stands
    stated_t = round(now.since_t + STATED_S, 6)
    if state.t < stated_t and now.state == "occupied" and _waits_near(state, suspect.stretch):
        state.lasting.set("occupied", suspect.stretch, stated_t)
        return
    if now.state != "occupied" or _has_cause(state, suspect):
        del state.suspects[suspect.stretch]
        state.lasting.drop("occupied", suspect.stretch)
        return
    last_t = now.last_t if now.raw == "on" and now.last_t is not None else state.t
    lasts_t = round(last_t + limit(state, "occupied_for", 0.5), 6)
    if _agrees(state, suspect) or (now.raw == "on" and state.t >= lasts_t):
        del state.suspects[suspect.stretch]
        state.lasting.drop("occupied", suspect.stretch)
        state.astray[suspect.stretch] = suspect
        state.touch("astray", suspect.stretch)
    else:
        state.lasting.set("occupied", suspect.stretch, lasts_t)


def _look_again(state: State, found: Astray) -> None:
    """It is over when it is clear again, or counts no more; it was none where a train is found to have gone there."""
    conditioning = state.conditioning
    assert conditioning is not None
    now = conditioning.detectors[found.detector]
    presences = state.presences.get(found.stretch, ())
    if any(p.out_t <= found.t + FOUND_S and p.n is not None and p.n >= (found.n or 0) for p in presences):
        del state.astray[found.stretch]
        state.ledger.withdraw(found.cause, "a train has gone there, and was not known to", [p.n for p in presences])
    elif now.state == "clear" or now.muted:
        del state.astray[found.stretch]
    state.touch("astray", found.stretch)


def _agrees(state: State, suspect: Astray) -> bool:
    """Another detector tells of the same."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    covering = railway.plant.covering.get(suspect.stretch, ())
    others = any(d.id != suspect.detector and conditioning.detectors[d.id].state == "occupied" for d in covering)
    told_t, _ = state.told_of.get(suspect.stretch, (-1e9, None))
    return others or abs(told_t - suspect.t) <= AGREES_S


def _has_cause(state: State, suspect: Astray) -> bool:
    """A train can be the cause, or what stood there before."""
    where = state.where
    assert where is not None
    if any(p.cleared is None for p in state.presences.get(suspect.stretch, ())):
        return True
    if any(where.likely(v).get(suspect.stretch, 0.0) >= UNLIKELY for v in state.stood.get(suspect.stretch, ())):
        return True
    near = [station for throat, station in _ends(state, suspect.stretch) if not _proved_unpassed(state, throat, suspect)]
    for vehicle in where.line(suspect.stretch):
        if where.since(vehicle) < suspect.t - BESIDE_S:
            return True
        if where.leader(vehicle) == vehicle and (near or where.belief(vehicle).by == "seen"):
            return True
    near += _beyond(state, near, suspect)
    able = [engine for station in near for engine in _able_to_come(state, station, suspect)]
    able = able or [engine for engine in _engines(state) if near and _may_be_near(state, engine, near)]
    state.may_have_gone.update(dict.fromkeys(able, suspect.stretch))
    return bool(able)


def _ends(state: State, stretch: str) -> Iterator[tuple[str, str]]:
    """The throats at a section or road, with their stations."""
    railway = state.railway
    assert railway is not None
    for boundary in railway.plant.at_stretch.get(stretch, ()):
        yield boundary.throat, railway.plant.throats[boundary.throat].station


def _waits_near(state: State, stretch: str) -> bool:
    """True where boards at the stations beside have yet to say how things stand, as just after a start."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    near = {s for _, station in _ends(state, stretch) for s in railway.plant.stretches_of(station)}
    return any(conditioning.detectors[d.id].lapsed for s in near for d in railway.plant.covering.get(s, ()))


def _proved_unpassed(state: State, throat: str, suspect: Astray) -> bool:
    """True where the detectors of a throat have said clear since long before, and nothing at its ends has told of anything:
    no engine has passed it."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(throat, ())]
    long_before_t = suspect.t - PASSED_S
    still = state.passed_at.get(throat, -1e9) < long_before_t
    return still and bool(rows) and all(now.state == "clear" and now.lasts_t < long_before_t for now in rows)


def _beyond(state: State, stations: list[str], suspect: Astray) -> list[str]:
    """The stations from which one comes to these by sections of which nothing tells, along them or at their ends."""
    railway, found = state.railway, list(stations)
    assert railway is not None
    plant = railway.plant
    for station in found:  # which grows on the way
        near = {section for stretch in plant.stretches_of(station) for section in plant.sections_near.get(stretch, ())}
        for section in sorted(near - {suspect.stretch}):
            ends = plant.sections[section].stations
            told = plant.covering.get(section) or any(plant.standing_at.get(f"{section}@{end}") for end in ends)
            found += [] if told else [end for end in ends if end not in found]
    return found[len(stations) :]


def _able_to_come(state: State, station: str, suspect: Astray) -> Iterator[str]:
    """Engines at a station, or on their way there, that can have come from there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for stretch in railway.plant.stretches_of(station):
        for vehicle in where.line(stretch):
            if railway.stock[vehicle].kind == "engine" and not _stands(state, vehicle, stretch, suspect):
                yield vehicle
    sections = {s for t in railway.plant.stretches_of(station) for s in railway.plant.sections_near[t]} - {suspect.stretch}
    for section in sorted(sections):
        yield from (v for v in where.line(section) if railway.stock[v].kind == "engine")
        yield from (p.engine for p in state.presences.get(section, ()) if p.cleared is None and p.out_at is None)


def _stands(state: State, engine: str, road: str, suspect: Astray) -> bool:
    """True for an engine that alone keeps its road occupied, and has done so all the while."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(road, ())]
    others = [v for v in where.line(road) if v != engine and railway.stock[v].detected]
    with_it = [v for v in where.company(engine) if v != engine and where.since(v) < suspect.t - BESIDE_S]
    is_alone = not others and not with_it and railway.stock[engine].detected
    lasts = any(now.state == "occupied" and now.raw == "on" and now.lasts_t < suspect.t - PASSED_S for now in rows)
    return road in railway.plant.roads and road != suspect.stretch and is_alone and lasts


def _engines(state: State) -> Iterator[str]:
    railway = state.railway
    assert railway is not None
    return (v.id for v in railway.stock.values() if v.kind == "engine")


def _may_be_near(state: State, engine: str, stations: list[str]) -> bool:
    """An engine that is held to be elsewhere may well be at a station from which it can have come: it was read there since,
    or its train has come there, or it is not unlikely, or it can have been what occupied a track there, and nothing has read
    it since: where few detectors are, whoever runs is followed by no more than that. Of one whose train runs, and of which
    it is not known where it is, nothing proves that it cannot."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    if railway.plant.station_of(where.place(engine)) in stations:
        return False  # that has been judged
    throat, read_t = state.read_last.get(engine, ("", 0.0))
    if throat and railway.plant.station_of(throat) in stations and read_t > where.since(engine):
        return True
    gone = state.may_have_gone.get(engine, "")
    if any(station in stations for _, station in _ends(state, gone)):
        return True
    train = state.roster.current(engine)
    if train is not None and train.phase is Phase.AT_STATION and train.station in stations:
        return True
    if train is not None and train.phase is not Phase.ENDED and not plainly.is_followed(state, engine):
        return True
    places = [place for place, likely in where.likely(engine).items() if likely >= UNLIKELY]
    return any(railway.plant.station_of(place) in stations for place in places)
