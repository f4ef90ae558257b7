"""Occasions for mistakes on the line: other roads, crossings, departures, proofs, tokens.

Rule: what disturbs the other trains least by the timetable is likely.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.plan import Call, Railway
from bridge.core.plant import DetectorKind, Plant, RoadKind, SectionRule
from bridge.virtual.crew.occasions import Found, Leg, Occasion, at_leg, at_mouth, legs, tells_of_entry

MINUTE_S = 60.0


def wrong_roads(railway: Railway) -> Found:
    """Other roads for trains on which a train could come in, told of by a detector; likely where they are empty then."""
    plant = railway.plant
    found, likely = [], []
    for leg in legs(railway):
        end = plant.throats[leg.into].end
        train_mm = sum(railway.stock[v].length_mm for v in (leg.working.engine, *leg.working.rake))
        for road in plant.stations[leg.then.station].roads:
            one = plant.roads[road]
            leads = end in one.open and (not one.reaches or leg.section.id in one.reaches)
            for_trains = one.kind in (RoadKind.RUNNING, RoadKind.LOOP) and one.length_mm >= train_mm
            told = plant.covering.get(road) or plant.standing_at.get(f"{road}@{end}")
            if road != leg.then.road and leads and for_trains and told:
                found.append(Occasion(leg.working.id, leg.then.index, leg.then.station, (road,)))
                ends_there = leg.then.index == len(leg.working.calls) - 1
                if ends_there and not _is_taken(railway, road, leg):
                    likely.append(found[-1])
    return found, likely


def _is_taken(railway: Railway, road: str, leg: Leg) -> bool:
    """Whether by the timetable something stands on a road when a train comes in, or comes there before it goes on."""
    coming_s = leg.then.arrive_s
    for working in railway.workings.values():
        for call in working.calls:
            if call.road != road or working.id == leg.working.id or coming_s is None:
                continue
            comes_s = call.arrive_s if call.index else None
            gone_s = call.depart_s if call.index + 1 < len(working.calls) else None
            if (comes_s is None or comes_s <= coming_s) and (gone_s is None or gone_s >= coming_s):
                return True
    return False


def clashes(railway: Railway) -> Found:
    """Trains that stand where another departs, on a road from which they too get into its section, past a detector at its
    end: the section's own says occupied of the other already."""
    plant = railway.plant
    found, likely = [], []
    for leg in legs(railway):
        for working in railway.workings.values():
            for call in working.calls:
                road = plant.roads[call.road]
                beside = (
                    call.station == leg.call.station and call.road != leg.call.road and working.engine != leg.working.engine
                )
                leads = plant.throats[leg.out].end in road.open and (not road.reaches or leg.section.id in road.reaches)
                if beside and leads and at_mouth(plant, leg.section.id, leg.out) and _stands_then(call, leg.call.depart_s):
                    found.append(Occasion(working.id, call.index, call.station, (leg.section.id, leg.working.id)))
                    if call.arrive_s is not None:
                        likely.append(found[-1])
    return found, likely


def _stands_then(call: Call, at_s: float | None) -> bool:
    if at_s is None:
        return False
    comes_s, goes_s = call.arrive_s, call.depart_s
    return (comes_s is None or comes_s + MINUTE_S <= at_s) and (goes_s is None or at_s <= goes_s)


def early(railway: Railway) -> Found:
    """Departures with a time; likely those at the start of a working, for which nobody is in the way."""
    found, likely = [], []
    for leg in legs(railway):
        depart_s, arrive_s = leg.call.depart_s, leg.call.arrive_s
        if depart_s is None or not tells_of_entry(railway.plant, leg):
            continue
        if arrive_s is None or leg.call.wait_for or arrive_s + 4 * MINUTE_S <= depart_s:
            found.append(at_leg(leg, *leg.call.wait_for))
            if leg.call.index == 0 and depart_s > _first_s(railway) + 2 * MINUTE_S:
                likely.append(found[-1])
    return found, likely


def _first_s(railway: Railway) -> float:
    return min(
        (call.depart_s for w in railway.workings.values() for call in w.calls if call.depart_s is not None), default=0.0
    )


def divisions(railway: Railway) -> Found:
    """Trains of several vehicles, in a section where what is left behind is noticed."""
    plant = railway.plant
    found = []
    for leg in legs(railway):
        train_mm = sum(railway.stock[vehicle].length_mm for vehicle in leg.working.rake)
        tail = any(d.kind is DetectorKind.TREADLE and d.sees == "tail" for d in at_mouth(plant, leg.section.id, leg.into))
        if (
            len(leg.working.rake) > 1
            and (tail or plant.covering.get(leg.section.id))
            and leg.section.length_mm > 2 * train_mm
            and _tells_of_coming(plant, leg)
        ):
            found.append(at_leg(leg, leg.section.id))
    return found, found


def _tells_of_coming(plant: Plant, leg: Leg) -> bool:
    """Whether a detector tells that a train is out of its section: at its end, in the throat, or on its road."""
    mouth = f"{leg.then.road}@{plant.throats[leg.into].end}"
    track = plant.covering.get(leg.into) or plant.covering.get(leg.then.road)
    return bool(track or at_mouth(plant, leg.section.id, leg.into) or plant.standing_at.get(mouth))


def unproved(railway: Railway) -> Found:
    """What a proof guards on the way of a train."""
    plant = railway.plant
    found = []
    for leg in legs(railway):
        for detector in plant.detectors.values():
            way = (leg.out, leg.section.id, leg.into, leg.then.road)
            if detector.kind is DetectorKind.PROOF and detector.guards in way and tells_of_entry(plant, leg):
                found.append(at_leg(leg, detector.id))
    return found, found


def _by_token(railway: Railway) -> Iterable[Leg]:
    rules = (SectionRule.TOKEN, SectionRule.STAFF_AND_TICKET)
    return (leg for leg in legs(railway) if leg.section.rule in rules and tells_of_entry(railway.plant, leg))


def without_token(railway: Railway) -> Found:
    """Runs through a section that is worked by token."""
    found = [(leg, at_leg(leg, leg.section.id)) for leg in _by_token(railway)]
    return [row for _, row in found], [row for leg, row in found if leg.section.rule is SectionRule.TOKEN]


def kept_tokens(railway: Railway) -> Found:
    """Trains that bring a token to its rest and go on from there, and another train that is booked with it."""
    plant = railway.plant
    rests = {(d.token, d.station) for d in plant.detectors.values() if d.kind is DetectorKind.TOKEN_REST}
    booked = [leg.section.id for leg in _by_token(railway)]
    found = []
    for leg in _by_token(railway):
        goes_on = leg.then.index + 1 < len(leg.working.calls)
        if goes_on and (leg.section.id, leg.then.station) in rests and booked.count(leg.section.id) > 1:
            found.append(Occasion(leg.working.id, leg.then.index, leg.then.station, (leg.section.id,)))
    return found, found


def others_tokens(railway: Railway) -> Found:
    """Trains that stand beside another which is booked before them into the same section."""
    plant = railway.plant
    rests = {(d.token, d.station) for d in plant.detectors.values() if d.kind is DetectorKind.TOKEN_REST}
    found = []
    for leg in _by_token(railway):
        for other in _by_token(railway):
            same = other.section is leg.section and other.out == leg.out and other.working.engine != leg.working.engine
            before = (other.call.depart_s or 0.0) < (leg.call.depart_s or 0.0)
            there = _stands_then(leg.call, other.call.depart_s) and leg.call.road != other.call.road
            if same and before and there and (leg.section.id, leg.call.station) in rests:
                found.append(at_leg(leg, leg.section.id, other.working.id))
    return found, found
