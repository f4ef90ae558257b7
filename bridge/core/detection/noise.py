"""Inputs that change too often: nothing on the rails makes them change so.

Rule: over `noisy_changes` within `noisy_within` are too many where nothing is near that could be the cause. Dirty wheels,
a rake of which only some axles are felt, and what stands on a treadle's edge make a detector change as often: where a train
or vehicle is, only what is faster than any of them counts. It is over when the input has been calm for a while.

Sources: an input that nothing holds changes at the frequency of the mains around it, or twice that (common practice, no
source); lines past the board's debounce of 5 to 10 ms are then some 100 a second. Axles pass a treadle at 25 changes a
second at most (scale 1:45, 100 km/h, axles 50 mm apart: reckoned), wheels on dirty rails lose contact for 20 ms and more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import Noisy, touch
from bridge.core.expected import Expected
from bridge.core.plant import Boundary, Detector, DetectorKind
from bridge.core.readings import limit
from bridge.core.wagons.moves import KNOWN
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.conditioning import DetectorNow
    from bridge.core.state import State

CALM_S = 600.0  # what floats comes in bursts, some minutes apart: common practice, no source
FASTER = 20.0  # times as fast as the limits say: nothing on the rails does that
BEFORE_S = 10.0  # who passed so shortly before may be what makes it change


def heard(state: State, detector: str) -> None:
    """An input has changed once more: too often?"""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    now, doubtful = conditioning.detectors[detector], state.doubtful
    within_s = limit(state, "noisy_within", 10.0)
    too_many = int(limit(state, "noisy_changes", 20)) + 1
    if now.muted or len(now.changes) < too_many or now.changes[-1] - now.changes[-too_many] > within_s:
        return
    is_known = detector in doubtful.noisy
    if not is_known:
        lasted_s, since_t = now.changes[-1] - now.changes[-too_many], now.changes[-too_many]
        is_bare = not _something_near(state, railway.plant.detectors[detector], since_t)
        if not is_bare and lasted_s > within_s / FASTER:
            return
        doubtful.noisy[detector] = _noisy(state, detector, now, too_many, lasted_s, is_bare)
    doubtful.moments.set("noisy", detector, state.t + CALM_S)
    if not is_known:
        touch(state, detector)


def calm(state: State, detector: str) -> None:
    """It has been calm for long enough."""
    del state.doubtful.noisy[detector]
    touch(state, detector)


def _noisy(state: State, detector: str, now: DetectorNow, changes: int, lasted_s: float, is_bare: bool) -> Noisy:
    railway = state.railway
    assert railway is not None
    board = railway.plant.detectors[detector].board
    others = tuple(d for d in state.doubtful.noisy if railway.plant.detectors[d].board == board)
    happened = round(now.changes[-changes], 6)
    evidence = () if now.last_n is None else (now.last_n,)
    return Noisy(f"noisy:{detector}:{happened:.6f}", changes, lasted_s, is_bare, others, evidence, happened)


def _something_near(state: State, detector: Detector, since_t: float) -> bool:
    """True where a vehicle is held to be where the detector looks, or an engine next to it, or something has just passed;
    over a treadle an engine may have passed of which it is not known where it is, or one that is being worked at a station
    there, where nothing has told yet that it has gone out or come in."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant, boundary = railway.plant, railway.plant.boundaries.get(detector.at or "")
    if detector.kind is DetectorKind.TREADLE and boundary is not None:
        around = any(where.line(s) or state.presences.get(s) for s in (boundary.outer, boundary.throat))
        return around or _is_one_at_large(state) or _is_one_at_work(state, boundary)
    if detector.kind is not DetectorKind.TRACK or detector.covers is None:
        return False
    if where.line(detector.covers) or state.presences.get(detector.covers):
        return True
    return any(_comes_by(state, end, detector.covers, since_t) for end in plant.at_stretch[detector.covers])


def _comes_by(state: State, end: Boundary, stretch: str, since_t: float) -> bool:
    """True where an engine is beyond one end of a stretch, or something has just passed there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    beyond = end.throat if stretch == end.outer else end.outer
    engines = any(railway.stock[v].kind == "engine" for v in where.line(beyond))
    return engines or state.passed_at.get(end.throat, -1e9) >= since_t - BEFORE_S


def _is_one_at_large(state: State) -> bool:
    """True where it is not known where some engine is."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    return any(
        where.belief(v.id).sure < KNOWN for v in railway.stock.values() if v.kind == "engine" and where.place(v.id) != OFF
    )


def _is_one_at_work(state: State, boundary: Boundary) -> bool:
    """True where an engine is being worked at a station from which a way leads over a boundary."""
    railway, where, expected = state.railway, state.where, Expected(state)
    assert railway is not None and where is not None
    plant = railway.plant
    section = plant.sections.get(boundary.outer)
    stations = section.stations if section is not None else (plant.station_of(boundary.throat) or "",)
    stretches = [stretch for station in stations for stretch in plant.stretches_of(station)]
    engines = (v for stretch in stretches for v in where.line(stretch) if railway.stock[v].kind == "engine")
    return any(expected.awake(engine) for engine in engines)
