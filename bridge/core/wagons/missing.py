"""Vehicles that cannot be placed well enough: which they are, and where to look for them first.

Rule: while things move a place is in doubt in passing, and that is no news. A vehicle is lost once its places have stood so
for a while with nothing going on around any of them, and nothing there unknown; it is found when one place is clearly
likelier than the others again. Where it goes with an engine, its crew sees whether it does and nothing is asked of anyone
until the train has had its time to show it, unless another train stands there to lift it. Between roads of one station that
nothing watches no detector can ever tell: what is there is not lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from bridge.core.expected import Expected
from bridge.core.facts import Lost
from bridge.core.plant import Detector
from bridge.core.wagons.booked import wanted
from bridge.core.wagons.freight import evidence_of
from bridge.core.wagons.moves import LIKELY
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.state import State

EVEN = 0.5  # the contract's: a place that is no likelier than this is none
AT_WORK_S = 120.0  # the same where a crew is at work, and knows; who moved it is beside it so long
QUIET_S = 30.0  # so long nothing may have gone on: on virtual evenings with few readers none of those lost then moved
SETTLES_S = 600.0  # of 72 doubts of two minutes or more in virtual evenings 67 were over by then, as trains went on
LEAST = 0.02  # a place that is less likely is not worth a look
MOST_PLACES = 5


def stir(state: State, detector: Detector, t: float) -> None:
    """A detector has told that something moves where it is."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    boundary = plant.boundaries.get(detector.at or "")
    stretches = (detector.covers,) if boundary is None else (boundary.outer, boundary.throat)
    for stretch in stretches:
        if stretch is not None:
            state.stirred_at[plant.station_of(stretch) or stretch] = t


def look_at(state: State, vehicle: str) -> None:
    """What is believed of a vehicle may have changed: is it found, or to be looked at again when it has been quiet?"""
    where, railway = state.where, state.railway
    assert where is not None and railway is not None
    if railway.stock[vehicle].kind == "engine":
        return  # its crew stands beside it
    surest = _surest(state, vehicle)
    is_lost = vehicle in state.lost
    if surest >= LIKELY or (surest > EVEN and not is_lost):
        state.unplaced.drop("lost", vehicle)
        state.doubted_at.pop(vehicle, None)
        if is_lost:
            _find(state, vehicle)
    else:
        state.unplaced.set("lost", vehicle, state.t + QUIET_S)
        state.doubted_at.setdefault(vehicle, state.t)


def put_off(state: State, by_s: float) -> None:
    """The service did not hear for so long: that time has settled nothing."""
    state.unplaced.put_off(by_s)
    for vehicle in state.doubted_at:
        state.doubted_at[vehicle] += by_s


def _surest(state: State, vehicle: str) -> float:
    """How likely the likeliest of the places is that detection tells apart: of what nothing watches a station is one."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    plant, chances = railway.plant, dict[str, float]()
    for place, chance in where.likely(vehicle).items():
        is_blind = plant.is_blind(place) if place in plant.roads else place in plant.throats and place not in plant.covering
        one = plant.station_of(place) or place if is_blind else place
        chances[one] = chances.get(one, 0.0) + chance
    return max(chances.values())


def pass_deadline(state: State) -> None:
    """The moments have come at which vehicles may be lost."""
    where = state.where
    assert where is not None
    while (found := state.unplaced.pop(state.t)) is not None:
        vehicle = found[1][1]
        likely = where.likely(vehicle)
        again_t = _not_before(state, vehicle, likely)
        if again_t > state.t:
            state.unplaced.set("lost", vehicle, again_t)
        else:
            _lose(state, vehicle, likely)


def due(state: State) -> float | None:
    """The next such moment."""
    return state.unplaced.first()


def _lose(state: State, vehicle: str, likely: Mapping[str, float]) -> None:
    """Its places have stood so long enough: it is lost, or is to be looked for elsewhere than was said."""
    ranked = sorted(likely, key=lambda place: (-round(likely[place], 3), place))
    places = tuple(place for place in ranked if likely[place] >= LEAST)[:MOST_PLACES]
    before = state.lost.get(vehicle)
    if before is None or before.places != places:
        cause = f"lost:{vehicle}:{state.t:.6f}" if before is None else before.cause
        if before is not None:
            _touch(state, before)
        state.lost[vehicle] = Lost(cause, places, evidence_of(state, vehicle))
        _touch(state, state.lost[vehicle])


def _find(state: State, vehicle: str) -> None:
    """It is lost no more. Who was said to be lost with it is found too, or is said to be lost by itself."""
    is_first, *others = beside(state, state.lost[vehicle])
    for other in (vehicle, *(others if is_first == vehicle else ())):
        del state.lost[other]
        state.touch("vehicle", other)
        if other != vehicle:
            state.unplaced.set("lost", other, state.t + QUIET_S)


def beside(state: State, found: Lost) -> list[str]:
    """Who is to be looked for first in the same place, in the order in which they were lost: one look tells of all."""
    return [vehicle for vehicle, other in state.lost.items() if other.places[:1] == found.places[:1]]


def _touch(state: State, found: Lost) -> None:
    """What is to be looked for first in the same place is said together."""
    for vehicle in beside(state, found):
        state.touch("vehicle", vehicle)


def _not_before(state: State, vehicle: str, likely: Mapping[str, float]) -> float:
    """The host second before which a vehicle cannot be lost: past where all is quiet around its places."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    plant, again_t = railway.plant, state.t + QUIET_S
    lead = where.leader(vehicle)
    lead_at = where.place(lead) if lead is not None else OFF
    areas = dict.fromkeys(plant.station_of(p) or p for p, chance in likely.items() if p != OFF and chance >= LEAST)
    if lead_at in plant.sections or list(areas) == [plant.station_of(lead_at)]:
        return again_t  # it is in a train on the line, or in one at a station, where its crew stands beside it
    for area in areas:
        if area in plant.sections and any(railway.stock[v].kind == "engine" for v in where.line(area)):
            return again_t
        for detector in _detectors(state, area):
            now = conditioning.detectors[detector.id]
            if now.state == "unknown" and not now.muted:
                return again_t
    expected = Expected(state)

    def quiet_s(area: str) -> float:
        return AT_WORK_S if any(expected.awake(engine) for engine in _engines_at(state, area)) else QUIET_S

    stirred_t = max((state.stirred_at[area] + quiet_s(area) for area in areas if area in state.stirred_at), default=0.0)
    return round(max(stirred_t, where.since(vehicle) + AT_WORK_S, _settles_t(state, vehicle)), 6)


def _settles_t(state: State, vehicle: str) -> float:
    """Until when the train that a vehicle goes with may still show whether it does; long ago where nobody waits for that."""
    where = state.where
    assert where is not None
    lead = where.leader(vehicle)
    waits = lead is not None and wanted(state, vehicle) in (None, lead)
    return state.doubted_at.get(vehicle, state.t) + SETTLES_S if waits else 0.0


def _engines_at(state: State, area: str) -> Iterator[str]:
    """The engines that stand at a station."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for stretch in railway.plant.stretches_of(area):
        yield from (v for v in where.line(stretch) if railway.stock[v].kind == "engine")


def _detectors(state: State, area: str) -> Iterator[Detector]:
    """What tells of vehicles at a station or in a section, and at their ends."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    for stretch in plant.stretches_of(area) or (area,):
        yield from plant.covering.get(stretch, ())
        for boundary in plant.at_stretch.get(stretch, ()):
            yield from plant.standing_at.get(boundary.id, ())
