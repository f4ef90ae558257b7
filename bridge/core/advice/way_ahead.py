"""Whether a train's way is ready for it: the road where it is to come in, proofs and points, and its work where it stands.

Rule: read from the state, changing nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.advice import predicting, way_out
from bridge.core.advice.hindrances import Going, Hindrance, numbers
from bridge.core.expected import Expected
from bridge.core.movement import in_the_way
from bridge.core.readings import called
from bridge.core.wagons.booked import left_to_do

if TYPE_CHECKING:
    from bridge.core.state import State


def against(state: State, going: Going) -> Iterator[Hindrance]:
    """What of its way stands against a train's going, the gravest first."""
    yield from _far_road(state, going)
    yield from _proofs(state, going)
    yield from _points(state, going)
    yield from _work(state, going)


def _far_road(state: State, going: Going) -> Iterator[Hindrance]:
    """The road where it is booked to come in."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    road = going.then.road
    shut_in = way_out.shut_in(state, road, going.train) if not way_out.another_way(state, going) else ()
    there = in_the_way.vehicles(state, going.train, going.then, going.far)
    if there:
        names, verb = ", ".join(called(state, v) for v in there), "is" if len(there) == 1 else "are"
        evidence = tuple(sorted({n for v in there for n in where.belief(v).evidence}))
        yield Hindrance(f"{names} {verb} in the way on {road}", False, None, evidence, waits_on=next(iter(shut_in), None))
        return
    others = way_out.standing_on(state, road, going.train.engine)
    if others and not way_out.another_way(state, going):
        other = state.roster.trains[others[0]]
        until_s = predicting.leaves_s(state, other, other.call)
        yield Hindrance(f"{other.id} to leave {road}", False, until_s, waits_on=other.id if other.id in shut_in else None)


def _proofs(state: State, going: Going) -> Iterator[Hindrance]:
    """What is to be locked for it: a bridge, gates."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    passed = (going.section.id, going.throat, going.train.road or going.call.road)
    near = dict.fromkeys(name for stretch in passed for name in railway.plant.proofs_near.get(stretch, ()))
    for detector in (railway.plant.detectors[name] for name in near):
        now, guards = conditioning.detectors[detector.id], detector.guards
        if guards not in passed or now.state == "proved":
            continue
        seen = numbers(now.evidence)
        if now.state == "unknown":
            yield Hindrance(f"whether {guards} is locked is unknown: {detector.id} ({now.why})", True, None, seen)
        else:
            yield Hindrance(f"{guards} to be closed and locked; {detector.id} does not prove it", False, None, seen)


def _points(state: State, going: Going) -> Iterator[Hindrance]:
    """The points between its road and the section, where contacts tell."""
    railway, conditioning, where = state.railway, state.conditioning, state.where
    assert railway is not None and conditioning is not None and where is not None
    road = where.place(going.train.engine)
    boundary = f"{road}@{going.throat.partition('.')[2]}"
    for detector in railway.plant.points_for.get(boundary, ()):
        now = conditioning.detectors[detector.id]
        seen = numbers(now.evidence)
        if now.state == "unknown":
            yield Hindrance(f"how {detector.id} lies is unknown ({now.why})", True, None, seen)
        elif not Expected(state).reachable(boundary):
            yield Hindrance(f"{detector.id} to be set for {road}", False, None, seen)
            return


def _work(state: State, going: Going) -> Iterator[Hindrance]:
    """Booked moves of this call that are not done."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    lifts = stays = 0
    for now in left_to_do(state, going.train):
        road = now.move.to_road
        if now.state == "booked":
            lifts += 1
        elif not (where.place(now.move.vehicle) == road != where.place(going.train.engine)):
            stays += 1
    words = [f"{count} {'wagon' if count == 1 else 'wagons'} to {what}" for count, what in _counts(lifts, stays)]
    if words:
        yield Hindrance(f"{' and '.join(words)} here")


def _counts(lifts: int, stays: int) -> Iterator[tuple[int, str]]:
    if lifts:
        yield lifts, "lift"
    if stays:
        yield stays, "set out"
