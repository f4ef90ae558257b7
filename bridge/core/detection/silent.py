"""Detectors that do not change though trains pass them: stuck, be it on or off.

Rule: a train that has gone from one station to the next has passed all that lies between. What should have told of it and
has said the same all the while is silent; once two trains on end have passed it so, it is stuck. What was not heard all the
while says nothing. What stands somewhere, or reaches there from beside, keeps a detector on rightly: that counts only where
nothing can be.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import Run, Silence, touch
from bridge.core.plant import Detector, DetectorKind
from bridge.core.readings import in_the_dark

if TYPE_CHECKING:
    from bridge.core.conditioning import DetectorNow, Observation
    from bridge.core.movement.trains import Train
    from bridge.core.state import State

TRAINS = 2  # that so many pass and nothing tells of them is no chance
BEFORE_S = 15.0  # so long before it was out a train may have been in its throat: common practice, no source
UNLIKELY = 0.02  # where a vehicle is less likely than this it is not


def train_came(state: State, train: Train, run: Run) -> None:
    """A train has come in from its section: what should have told of it?"""
    railway = state.railway
    assert railway is not None
    if railway.stock[train.engine].detected:
        for detector in dict.fromkeys(_passed(state, run)):
            _judge(state, detector, train, run)


def observe(state: State, seen: Observation) -> None:
    """One observation: does a detector change that was silent until now? What is known again after a stop is no change."""
    conditioning, known = state.conditioning, state.doubtful.silences.get(seen.detector)
    assert conditioning is not None
    if known is not None and (seen.state == "passed" or conditioning.detectors[seen.detector].lasts_t != known.since_t):
        _told(state, seen.detector)


def _told(state: State, detector: str) -> None:
    """A detector has told of something: it is stuck no more."""
    state.doubtful.silences.pop(detector, None)
    if state.doubtful.stuck.pop(detector, None) is not None:
        touch(state, detector)


def _passed(state: State, run: Run) -> Iterator[Detector]:
    """What a train has passed: tracks, that of the road which it has left too, and treadles that every train works."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    for stretch in (run.start, run.section, run.end, *((run.road,) if run.road in plant.roads else ())):
        yield from plant.covering.get(stretch or "", ())
    for boundary in plant.at_stretch[run.section]:
        for detector in plant.standing_at.get(boundary.id, ()):
            if detector.kind is DetectorKind.TREADLE and detector.sees != "tail":
                yield detector


def _judge(state: State, detector: Detector, train: Train, run: Run) -> None:
    conditioning, doubtful = state.conditioning, state.doubtful
    assert conditioning is not None
    now = conditioning.detectors[detector.id]
    if now.state == "unknown" or in_the_dark(state, (detector,)):
        return
    says = _says(detector, now)
    since_t = run.stood_t if detector.covers == run.road and says == "clear" else run.out_t
    if since_t is None:
        return
    if _has_told(detector, now, since_t - BEFORE_S):
        _told(state, detector.id)
    elif says != "occupied" or not _may_stand(state, detector.covers or ""):
        before = doubtful.silences.get(detector.id)
        if before is None or (before.says, before.since_t) != (says, now.lasts_t):
            before = Silence(says, now.lasts_t, (), ())
        evidence = tuple(sorted({*before.evidence, *run.evidence}))
        found = Silence(says, now.lasts_t, (*before.trains, train.id), evidence)
        doubtful.silences[detector.id] = found
        if len(found.trains) >= TRAINS and detector.id not in doubtful.stuck:
            doubtful.stuck[detector.id] = found
            touch(state, detector.id)


def _says(detector: Detector, now: DetectorNow) -> str:
    """What a detector goes on saying: of a treadle how its contact stands."""
    return now.state if detector.kind is DetectorKind.TRACK else "on" if now.raw == "on" else "off"


def _has_told(detector: Detector, now: DetectorNow, since_t: float) -> bool:
    """True where a detector has changed since a train came near it, or was not heard all the while."""
    passed = detector.kind is DetectorKind.TREADLE and bool(now.changes) and now.changes[-1] > since_t
    return passed or now.lasts_t > since_t


def _may_stand(state: State, stretch: str) -> bool:
    """True where a vehicle that a stretch's detector feels may be on it, or next to it and reach over its end."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    ends = railway.plant.at_stretch[stretch]
    near = {stretch, *(end.throat if stretch == end.outer else end.outer for end in ends)}
    felt = (v.id for v in railway.stock.values() if v.detected)
    return any(likely >= UNLIKELY and place in near for v in felt for place, likely in where.likely(v).items())
