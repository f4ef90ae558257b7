"""Trains on the line: each crossing and each sign at a section end handed to the room that it concerns.

Rule: this room decides nothing; `going` follows trains out, `coming` follows them in.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from bridge.core import coming, going
from bridge.core.plant import DetectorKind
from bridge.core.presence import limit
from bridge.core.trains import Phase
from bridge.core.whereabouts import Change, Crossing

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State


def apply(state: State, changes: Iterable[Change]) -> None:
    """Hand changes of the whereabouts on to trains and freight."""
    for change in changes:
        if isinstance(change, Crossing):
            take_crossing(state, change)
        else:
            going.spread(state, change)


def take_signs(state: State, seen: Observation) -> None:
    """Note where and when a section end saw anything."""
    railway = state.railway
    assert railway is not None
    detector = railway.plant.detectors[seen.detector]
    section = detector.covers if detector.covers in railway.plant.sections else None
    throat = None
    boundary = railway.plant.boundaries.get(detector.at or "")
    if boundary is not None and boundary.outer in railway.plant.sections:
        section, throat = boundary.outer, boundary.throat
    if section is None or not seen.moves:
        return
    for presence in state.presences.get(section, ()):
        if presence.start == throat or (throat is None and seen.state == "occupied"):
            presence.last_sign_t = max(presence.last_sign_t, seen.t)
        if presence.out_at is not None and presence.out_at == throat:
            presence.out_sign_t = seen.t
    if detector.kind is DetectorKind.TREADLE and detector.sees == "tail" and throat is not None:
        coming.tail_treadle(state, section, throat, seen)


def take_crossing(state: State, crossing: Crossing) -> None:
    """A vehicle changed stretch: what it means for its train."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    engine = where.leader(crossing.vehicle)
    if engine is None or not state.running:
        return
    if crossing.goal in railway.plant.sections:
        throat = _throat_passed(state, crossing)
        if throat is not None:
            _into_section(state, crossing, engine, throat)
    elif crossing.start in railway.plant.sections and crossing.goal in railway.plant.throats:
        coming.come_out(state, crossing, engine, crossing.start, crossing.goal)
    if crossing.goal in railway.plant.roads:
        coming.on_road(state, crossing, engine)


def _throat_passed(state: State, crossing: Crossing) -> str | None:
    """The throat by which a vehicle came into a section; where it was taken over the throat in one step, the one between."""
    railway = state.railway
    assert railway is not None
    if crossing.start in railway.plant.throats:
        return crossing.start
    station = railway.plant.station_of(crossing.start)
    ends = [b.throat for b in railway.plant.at_stretch[crossing.goal] if b.throat.partition(".")[0] == station]
    return ends[0] if ends else None


def _into_section(state: State, crossing: Crossing, engine: str, throat: str) -> None:
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[crossing.goal]
    rows = [p for p in state.presences.get(section.id, ()) if p.engine == engine]
    for presence in rows:
        if presence.start == throat and presence.cleared is None and presence.out_at is None:
            presence.last_sign_t = max(presence.last_sign_t, crossing.t)
            return
    train = going.train_going(state, engine, section, throat)
    if train.phase is not Phase.AT_STATION and any(p.out_at == throat for p in rows):
        return  # it steps back over the end where it is just coming out
    if train.phase in (Phase.IN_SECTION, Phase.OUT) and train.station != throat.partition(".")[0]:
        coming.arrive_unseen(state, train, throat.partition(".")[0], crossing)
    going.go_out(state, crossing, train, section, throat)


def after(state: State) -> None:
    """Once an event is digested: what has become certain of trains that are out or coming in."""
    for section in list(state.presences):
        for presence in list(state.presences[section]):
            if not presence.departed and presence.cleared is None:
                going.try_departed(state, presence)
            if presence.out_at is not None and presence.cleared != "complete":
                coming.try_cleared(state, presence)


def due(state: State) -> float | None:
    """When a train that is out counts as departed, or a section as cleared without proof."""
    times: list[float] = []
    for rows in state.presences.values():
        for presence in rows:
            if not presence.departed:
                times.append(round(presence.last_sign_t + limit(state, "out_after", 20.0), 6))
            elif presence.out_sign_t is not None and presence.cleared is None:
                times.append(round(presence.out_sign_t + limit(state, "complete_after", 30.0), 6))
    return min((t for t in times if t > state.t), default=None)
