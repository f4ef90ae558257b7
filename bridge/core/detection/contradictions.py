"""Detectors that say what cannot be: points against the road that a train has come in by, a token on two rests, passings
where nothing is.

Rule: what contradicts a detector is told by others, and once is no proof where a single misread or a spike on a long wire
could explain it. It is over as soon as the detector agrees with what is known, or has been quiet for a while.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import Against, Contradicted, touch
from bridge.core.plant import Detector, DetectorKind

if TYPE_CHECKING:
    from bridge.core.conditioning import DetectorNow, Observation
    from bridge.core.state import State

AGAINST_POINTS = 2  # trains, on end
GHOSTS = 3  # passings of nothing, on end
STILL_S = 5.0  # nothing has been beside a treadle for so long before it told of a passing, and is for `SHOWS_S` after it
SHOWS_S = 3.0  # what has passed is felt beyond by then: common practice, no source
LAID_S = 5.0  # a rest has said by then that its token is gone
SET_S = 10.0  # points that have moved since may have lain otherwise as the train passed
QUIET_S = 600.0  # a treadle that has told of nothing for so long has come to itself


def observe(state: State, seen: Observation) -> None:
    """One observation: a token that lies elsewhere too, or a passing where nothing is?"""
    railway = state.railway
    assert railway is not None
    detector = railway.plant.detectors[seen.detector]
    if detector.kind is DetectorKind.TOKEN_REST:
        _end(state, seen.detector)
        for other in _rests(state, detector):
            _end(state, other.id)
            state.doubtful.moments.set("token", other.id, state.t + LAID_S)
        state.doubtful.moments.set("token", seen.detector, state.t + LAID_S)
    elif detector.kind is DetectorKind.TREADLE and seen.moves and _is_still(state, detector, seen.t - STILL_S):
        state.doubtful.moments.set("ghost", seen.detector, state.t + SHOWS_S)
    elif detector.kind is DetectorKind.TREADLE and seen.moves:
        _agrees(state, seen.detector)


def come_due(state: State, kind: str, detector: str) -> None:
    """A moment has come that was waited for."""
    railway = state.railway
    assert railway is not None
    if kind == "token":
        _look_at_token(state, railway.plant.detectors[detector])
    elif kind == "ghost":
        _look_for_ghost(state, railway.plant.detectors[detector])
    else:
        _agrees(state, detector)


def train_came(state: State, road: str, throat: str, n: int | None) -> None:
    """A train has come in on a road by one throat: do the points there agree?"""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    if not _was_felt_on(state, road, throat):
        return
    for points in railway.plant.points_for.get(f"{road}@{throat.rpartition('.')[2]}", ()):
        now = conditioning.detectors[points.id]
        if points.at != throat or now.state not in ("on", "off") or now.lasts_t > state.t - SET_S:
            continue
        if road in (points.on if now.state == "on" else points.off):
            _agrees(state, points.id)
        elif _count(state, points.id, n) >= AGAINST_POINTS:
            allows = " and ".join(points.on if now.state == "on" else points.off) or "no road that it names"
            _contradict(
                state,
                points.id,
                f"says that the points lie for {allows}, and trains come in on {road}",
                "its contact at the points and which roads its `on` and `off` name in railway.toml",
                (),
            )


def _was_felt_on(state: State, road: str, throat: str) -> bool:
    """True where something other than the points has just told that a train came on to a road."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    since_t = state.t - SET_S
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(road, ())]
    felt = any(now.state == "occupied" and now.lasts_t >= since_t for now in rows)
    return felt or where.read_since(f"{road}@{throat.rpartition('.')[2]}", since_t)


def _look_at_token(state: State, rest: Detector) -> None:
    """Does the same token lie on two rests? The one that has said so for longer has not told of its going."""
    conditioning = state.conditioning
    assert conditioning is not None
    now = conditioning.detectors[rest.id]
    for other in _rests(state, rest):
        there = conditioning.detectors[other.id]
        if now.tag is not None and there.tag == now.tag and now.lasts_t < there.lasts_t:
            _count(state, rest.id, there.evidence)
            what = f"says still that the token of {rest.token} lies there, and {other.id} has read it since"
            _contradict(state, rest.id, what, "whether a token lies there, and at its reader", (other.id,))


def _rests(state: State, rest: Detector) -> list[Detector]:
    """The other rests of a token."""
    railway = state.railway
    assert railway is not None
    return [other for other in railway.plant.rests.get(rest.token or "", ()) if other.id != rest.id]


def _look_for_ghost(state: State, treadle: Detector) -> None:
    conditioning = state.conditioning
    assert conditioning is not None
    if not _is_still(state, treadle, state.t - STILL_S):
        _agrees(state, treadle.id)
        return
    now = conditioning.detectors[treadle.id]
    if _count(state, treadle.id, now.last_n) >= GHOSTS:
        what = "has told of passings where all is clear before it and behind it"
        _contradict(state, treadle.id, what, "its switch, and whether its wire runs beside one of motors or points", ())
    state.doubtful.moments.set("quiet", treadle.id, state.t + QUIET_S)


def _is_still(state: State, treadle: Detector, since_t: float) -> bool:
    """True where detectors on both sides of a treadle have said clear since then, and nothing is there that they cannot
    feel."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    boundary = railway.plant.boundaries.get(treadle.at or "")
    if boundary is None:
        return False
    for stretch in (boundary.outer, boundary.throat):
        rows: list[DetectorNow] = [conditioning.detectors[d.id] for d in railway.plant.covering.get(stretch, ())]
        clear = bool(rows) and all(now.state == "clear" and now.raw == "off" and now.lasts_t < since_t for now in rows)
        if not clear or where.line(stretch):
            return False
    return True


def _count(state: State, detector: str, n: int | None) -> int:
    before = state.doubtful.against.get(detector, Against(0, ()))
    found = Against(before.times + 1, tuple(sorted({*before.evidence, *(() if n is None else (n,))}))[-8:])
    state.doubtful.against[detector] = found
    return found.times


def _contradict(state: State, detector: str, what: str, look: str, because: tuple[str, ...]) -> None:
    if detector in state.doubtful.contradicted:
        return
    evidence = state.doubtful.against[detector].evidence
    cause = f"contradicted:{detector}:{state.t:.6f}"
    state.doubtful.contradicted[detector] = Contradicted(cause, what, look, because, evidence)
    touch(state, detector)


def _agrees(state: State, detector: str) -> None:
    """A detector says what is known otherwise: what has been told against it counts no more."""
    state.doubtful.against.pop(detector, None)
    _end(state, detector)


def _end(state: State, detector: str) -> None:
    if state.doubtful.contradicted.pop(detector, None) is not None:
        state.doubtful.against.pop(detector, None)
        touch(state, detector)
