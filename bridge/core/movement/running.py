"""Trains on the line: each crossing and each sign at a section end handed to the room that it concerns.

Rule: what is hardly likely is handed to nobody; else this room decides nothing: `going` follows trains into a section,
`coming` out of it, `arriving` on to their road, and `clearing` clears the section behind.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.advice import may_go
from bridge.core.expected import Expected
from bridge.core.line import divided, proofs
from bridge.core.movement import arriving, blocked, clearing, coming, going, gone
from bridge.core.plant import DetectorKind, Plant
from bridge.core.presence import Presence
from bridge.core.readings import limit
from bridge.core.trains import Phase, Train
from bridge.core.whereabouts import Change, Crossing

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State

HARDLY = 0.25  # a place that is not even so likely: from virtual evenings
TRAILS_S = 30.0  # who comes in slowly passes the end with all that follows in less: common practice, no source


def apply(state: State, changes: Iterable[Change]) -> None:
    """Hand changes of the whereabouts on to trains and freight."""
    for change in changes:
        if isinstance(change, Crossing):
            stir(state, change.start)
            stir(state, change.goal)
            take_crossing(state, change)
            stir(state, change.goal)
        else:
            going.spread(state, change)


def take_signs(state: State, seen: Observation) -> None:
    """Note where and when a section end saw anything."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    detector = railway.plant.detectors[seen.detector]
    section = detector.covers if detector.covers in railway.plant.sections else None
    throat = None
    boundary = railway.plant.boundaries.get(detector.at or "")
    if boundary is not None and boundary.outer in railway.plant.sections:
        section, throat = boundary.outer, boundary.throat
    if detector.covers in railway.plant.throats and seen.moves:
        for presence in (p for rows in state.presences.values() for p in rows if p.out_at == detector.covers):
            presence.out_sign_t = seen.t
    if section is None or not seen.moves:
        return
    if seen.tag is not None and not where.knows_tag(seen.tag):
        return  # a garbled read is no sign of a train
    for presence in state.presences.get(section, ()):
        if presence.start == throat or (throat is None and seen.state == "occupied"):
            if seen.t > presence.last_sign_t + limit(state, "out_after", 20.0):
                presence.anew_t = seen.t
            presence.last_sign_t = presence.told_t = max(presence.last_sign_t, seen.t)
        if presence.out_at is not None and presence.out_at == throat:
            presence.out_sign_t = seen.t
        if throat is not None and throat != presence.start:
            divided.passed(state, presence, seen)
    if seen.tag is not None and throat is not None:
        clearing.late_tag(state, section, throat, seen)
    if detector.kind is DetectorKind.TREADLE and detector.sees == "tail" and throat is not None:
        clearing.tail_treadle(state, section, throat, seen)
        state.good_tails[seen.detector] = seen.t


def given_back(state: State, train_id: str, section: str, n: int | None, station: str | None = None) -> None:
    """What let a train into a section was given back, or laid down at a station: who did so has seen it come out, with all
    that it has where nothing else tells of that."""
    where, train = state.where, state.roster.trains.get(train_id)
    assert where is not None
    if train is None or not state.running:
        return
    apply(state, where.given_back(train.engine, section, station, state.t, n, Expected(state)))
    for presence in state.presences.get(section, ()):
        if presence.engine == train.engine:
            clearing.given_back(state, presence, n)
    stir(state, section)


def take_crossing(state: State, crossing: Crossing) -> None:
    """A vehicle changed stretch: what it means for its train."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    engine = where.leader(crossing.vehicle)
    if engine is None or not state.running:
        return
    if crossing.by != "seen" and where.likely(crossing.vehicle).get(crossing.goal, 0.0) < HARDLY:
        return  # it is held to be there for want of anything likelier: nothing of its train follows from that
    if crossing.goal in railway.plant.sections:
        throat = _throat_passed(state, crossing)
        if throat is not None:
            _passed_unseen(state, crossing, engine, throat)
        if throat is not None and _leads_out(state, engine, crossing.goal, throat):
            _into_section(state, crossing, engine, throat)
    elif crossing.goal in _ends(railway.plant, crossing.start):  # who is seen further on has not come out by one of these
        coming.come_out(state, crossing, engine, crossing.start, crossing.goal)
    elif crossing.vehicle == engine:
        coming.turn_up(state, crossing, engine)
    if crossing.goal in railway.plant.roads:
        arriving.on_road(state, crossing, engine)


def _ends(plant: Plant, stretch: str) -> tuple[str, ...]:
    """The throats at the ends of a section; none of what is no section."""
    return plant.sections[stretch].throats if stretch in plant.sections else ()


def _throat_passed(state: State, crossing: Crossing) -> str | None:
    """The throat by which a vehicle came into a section: the end that is nearer to where it was before, where nothing on its
    way has told of it."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    ends = {b.throat.partition(".")[0]: b.throat for b in plant.at_stretch[crossing.goal]}
    if crossing.start in ends.values():
        return crossing.start
    station = plant.station_of(crossing.start)
    around = [b.throat.partition(".")[0] for b in plant.at_stretch.get(crossing.start, ())]
    seen = around if station is None else [station]
    for here in seen:
        if here in ends:
            return ends[here]
        pairs = [s.stations for s in plant.sections.values()]
        seen += [there for pair in pairs if here in pair for there in pair if there not in seen]
    return None


def _passed_unseen(state: State, crossing: Crossing, engine: str, throat: str) -> None:
    """A vehicle is in a section beyond a station that has told of nothing: it has come there all the same."""
    railway = state.railway
    assert railway is not None
    plant, station = railway.plant, throat.partition(".")[0]
    if crossing.start in plant.sections:
        for end in [b.throat for b in plant.at_stretch[crossing.start] if b.throat.partition(".")[0] == station]:
            coming.come_out(state, crossing, engine, crossing.start, end)
    elif crossing.vehicle == engine and plant.station_of(crossing.start) != station:
        coming.turn_up(state, replace(crossing, goal=throat), engine)


def _leads_out(state: State, engine: str, section: str, throat: str) -> bool:
    """True where a vehicle's engine is with it: in the section or at the station it leaves. One that lags behind an engine
    which has long come out at the far end only catches up with it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    place = where.place(engine)
    return place == section or railway.plant.station_of(place) == railway.plant.throats[throat].station


def _into_section(state: State, crossing: Crossing, engine: str, throat: str) -> None:
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[crossing.goal]
    rows = [p for p in state.presences.get(section.id, ()) if p.engine == engine]
    for presence in rows:
        if presence.start == throat and presence.cleared is None and presence.out_at is None:
            going.note_out(state, presence, crossing)
            presence.told_clear = presence.told_clear and crossing.by != "seen"
            return
    if crossing.vehicle != engine and any(p.start != throat and p.out_at is None and p.cleared is None for p in rows):
        return  # its engine has gone in at the other end: it was with it there, and was held to be elsewhere until now
    if crossing.vehicle != engine and crossing.by == "carried" and any(p.cleared is None for p in rows):
        return  # it is taken along into where its engine has long been
    train = going.train_going(state, engine, section, throat)
    if train.phase is not Phase.AT_STATION and any(p.out_at == throat for p in rows):
        return  # it steps back over the end where it is just coming out
    if _trails(state, crossing, train, section.id, throat):
        return
    if train.phase in (Phase.IN_SECTION, Phase.OUT) and train.station != throat.partition(".")[0]:
        arriving.arrive_unseen(state, train, throat.partition(".")[0], crossing)
    going.go_out(state, crossing, train, section, throat)


def _trails(state: State, crossing: Crossing, train: Train, section: str, throat: str) -> bool:
    """True for a vehicle of a train that has just come out here, its engine ahead: taken to be out with it, and then found
    to come behind. One that is read so soon after comes in: nothing goes back in that time."""
    where = state.where
    assert where is not None
    engine, at, t = state.came_out.get(section, ("", "", 0.0))
    came = (engine, at) == (train.engine, throat) and crossing.t - t <= TRAILS_S
    is_behind = crossing.by != "seen" or crossing.t - t <= arriving.TURNS_S
    return came and train.phase is Phase.AT_STATION and is_behind and where.place(engine) != section


def stir(state: State, stretch: str) -> None:
    """Something was seen on a stretch, or changed there: trains in the sections near it are looked at after it."""
    railway = state.railway
    assert railway is not None
    proofs.stir(state, stretch)
    blocked.stir(state, stretch)
    may_go.stir(state, stretch)
    for section in railway.plant.sections_near.get(stretch, ()):
        if section in state.presences:
            state.stirred[section] = None


def after(state: State) -> None:
    """Once an event is digested: what has become certain of trains that are out or coming in."""
    while state.stirred:
        section = next(iter(state.stirred))
        del state.stirred[section]
        for presence in list(state.presences.get(section, ())):
            if coming.try_back(state, presence):
                continue
            if not presence.departed and presence.cleared is None:
                going.try_departed(state, presence)
            going.look_again(state, presence)
            if presence.out_at is not None and presence.cleared != "complete":
                divided.look(state, presence)
                clearing.try_cleared(state, presence)
            gone.look_again(state, presence.engine)
            _wait(state, presence)
        proofs.stir(state, section)
    proofs.after(state)


def _wait(state: State, presence: Presence) -> None:
    """Look at a train again when it counts as departed, or its section as cleared without proof."""
    one = presence.n or 0
    if not presence.departed or (presence.out_at is None and not state.roster.trains[presence.train].is_gone):
        t = presence.last_sign_t + limit(state, "out_after", 20.0)
    elif presence.out_sign_t is not None and presence.cleared is None:
        t = presence.out_sign_t + limit(state, "complete_after", 30.0)
        short_t = divided.due_t(state, presence)
        if short_t is not None and short_t > state.t and (t <= state.t or short_t < t):
            t = short_t
    else:
        state.deadlines.drop("running", presence.section, one)
        return
    if round(t, 6) > state.t:  # to the same figures as a deadline has, else it would be set for now again and again
        state.deadlines.set("running", presence.section, t, one)


def pass_deadline(state: State) -> None:
    """The moments that have come."""
    while (found := state.deadlines.pop(state.t)) is not None:
        _, (_, section, _, _) = found
        state.stirred[section] = None


def due(state: State) -> float | None:
    """The next such moment."""
    return state.deadlines.first()
