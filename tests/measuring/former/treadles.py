"""Treadles: something passed a boundary; from the side, the throat and the picture one reads what, and which way.

Rule: of two treadles at one boundary the one that is passed first tells whence the train comes; a throat that was occupied
before the treadle holds what passed it. Passings soon behind a read or another passing tell of the same train.
"""

from __future__ import annotations

from bridge.core.conditioning import Observation
from bridge.core.plant import Boundary, Detector
from bridge.core.whereabouts import Prior

from . import hints
from .choosing import choose_mover, is_doubtful
from .picture import Picture

FRESH_S = 6.0  # a treadle passed so soon behind a read or another passing tells of the same passage
ALONE_S = 4.0  # a second treadle so soon behind a first that stood alone tells of the same train
AHEAD_S = 0.4  # a throat occupied so long before a treadle was passed holds what passed it
FASTEST_MM_S = 700.0  # no model train runs faster past a section end: more than 100 km/h in 1:43.5
TAIL_S = 4.0  # a tail vehicle read so shortly before its treadle has been taken over already


def passed(picture: Picture, seen: Observation, boundary: Boundary, detector: Detector, prior: Prior) -> None:
    """Take one passing."""
    picture.stir(boundary.throat, seen.t)
    if detector.sees == "tail":
        _tail(picture, seen, boundary)
        return
    last = picture.read_at.get(boundary.id)
    latest = max(
        picture.treadle_at.get(boundary.id, -99.0),
        picture.guessed_at.get(boundary.id, -99.0),
        last.t if last is not None else -99.0,
    )
    if latest > seen.t - FRESH_S:
        picture.treadle_at[boundary.id] = seen.t
        return
    first = picture.lone.pop(boundary.id, None)
    if first is None or first[1] == detector.id or seen.t - first[0] > ALONE_S:
        if _stands_alone(picture, boundary, detector, prior):
            picture.lone[boundary.id] = (seen.t, detector.id)
            return
        side = detector.side
    else:
        side = picture.plant.detectors[first[1]].side
    picture.treadle_at[boundary.id] = seen.t
    by = "seen" if detector.sees == "engine" else "order"
    inside = picture.lines.outermost(boundary.outer, boundary.end)
    fits = detector.sees != "engine" or inside in picture.engines
    if inside is not None and fits and _comes_in(picture, inside, boundary, side, prior, seen.t):
        picture.cross(inside, boundary, False, seen.t, seen.n, by, "treadle")
        return
    if inside is not None and _just_came(picture, inside, boundary):
        return  # more of the train that is going in there
    mover = choose_mover(picture, boundary.outer, [boundary], prior, seen.t)
    if mover is None or (detector.sees == "engine" and mover.vehicle not in picture.engines):
        return
    if not picture.plant.read_at(boundary.id) or not is_doubtful(picture, boundary.outer, prior, seen.t):
        picture.take_for(mover.vehicle, mover.way, seen.t, seen.n, by, "treadle")


def _stands_alone(picture: Picture, boundary: Boundary, detector: Detector, prior: Prior) -> bool:
    """True where a passing may be a ghost: others stand there that would tell of a train too, and none has."""
    others = [d for d in picture.plant.standing_at[boundary.id] if d.id != detector.id and d.sees != "tail"]
    watched = boundary.outer in picture.plant.covering
    busy = "occupied" in (prior.stretch_state(boundary.throat), prior.stretch_state(boundary.outer))
    return bool(others or watched) and not busy


def _comes_in(picture: Picture, inside: str, boundary: Boundary, side: str | None, prior: Prior, t: float) -> bool:
    """True where a treadle was passed by what stands in the section or road, on its way into the throat."""
    if picture.leader(inside) is None or _just_came(picture, inside, boundary):
        return False
    if side is not None:
        return side != ("down" if boundary.throat_end == 0 else "up")
    since = hints.occupied_since(prior, boundary.throat)
    return since is None or t - since < AHEAD_S


def _just_came(picture: Picture, vehicle: str, boundary: Boundary) -> bool:
    """True where a vehicle came in by this boundary and its train is still following it."""
    lead = picture.leader(vehicle)
    if picture.came_by.get(vehicle) != boundary.id or lead is None:
        return False
    station = boundary.throat.partition(".")[0]
    return any(picture.plant.station_of(picture.place(v)) == station for v in picture.company(lead))


def _tail(picture: Picture, seen: Observation, boundary: Boundary) -> None:
    """The tail vehicle passed: all of its train that stood before it is over too."""
    for outward in (False, True):
        start, end, goal = picture.other_end(boundary, outward)
        row = list(picture.line(start))
        tails = [v for v in (row if end == 0 else row[::-1]) if picture.stock[v].tail]
        if not tails or not _led_from(picture, goal, start, tails[0]):
            continue
        if not outward and _too_soon(picture, tails[0], boundary, seen.t):
            return
        last = picture.reads.get(tails[0])
        if last is None or last.boundary != boundary.id or seen.happened_t - last.t >= TAIL_S:
            for each in [*picture.lines.ahead(tails[0], end), tails[0]]:
                by = "seen" if each == tails[0] else "order"
                picture.cross(each, boundary, outward, seen.t, seen.n, by, "treadle")
        return


def _too_soon(picture: Picture, tail: str, boundary: Boundary, t: float) -> bool:
    """True where a train has come out so shortly before that its tail cannot have: it is longer than it can have run."""
    lead = picture.leader(tail)
    came_in = picture.came_in.get((lead, boundary.id)) if lead is not None else None
    if lead is None or came_in is None:
        return False
    between_mm = sum(picture.stock[v].length_mm for v in picture.company(lead)) - picture.stock[lead].length_mm
    return t - came_in < between_mm / FASTEST_MM_S


def _led_from(picture: Picture, goal: str, start: str, tail: str) -> bool:
    """True where the front of a tail vehicle's train is beyond the boundary already: on the stretch or, through a throat,
    on what lies behind it."""
    beyond = list(picture.line(goal))
    if goal in picture.plant.throats:
        beyond += [v for b in picture.plant.at_stretch[goal] if b.outer != start for v in picture.line(b.outer)]
    return any(picture.leader(v) == picture.leader(tail) for v in beyond)
