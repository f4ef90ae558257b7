"""Occasions for mistakes with wagons: what is booked to be set out or lifted on the way, and the sidings beside it.

Rule: a set-out or lift is only one where the working goes on afterwards, past a detector that tells of it.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.plan import Call, Move, Railway, Working
from bridge.core.plant import Road, RoadKind
from bridge.virtual.crew.lists import Job, Lists
from bridge.virtual.crew.occasions import Found, Leg, Occasion, at_leg, leg_of, legs, tells_of_entry

NARROW_MM = 38.0  # what hangs out of a road by no more lets others by


def _rows(railway: Railway) -> Iterator[tuple[Move, Working, Lists]]:
    lists = Lists(railway)
    for move in railway.moves:
        working = railway.workings.get(lists.working_of.get(move.index, ""))
        if working is not None:
            yield move, working, lists


def _last_call(railway: Railway, working: Working, lists: Lists, job: Job, road: str) -> Leg | None:
    """The run on which a working leaves the last call at which it could do a job; None where it goes no further."""
    station = railway.plant.roads[road].station
    calls = [c for c in working.calls if c.station == station and lists.can_wait_for(working, c, job)]
    leg = leg_of(railway, working, calls[-1]) if calls else None
    return leg if leg is not None and tells_of_entry(railway.plant, leg) else None


def forgotten(railway: Railway) -> Found:
    """Set-outs at a call from which the working goes on."""
    found = []
    for move, working, lists in _rows(railway):
        leg = _last_call(railway, working, lists, Job(move.vehicle, None, move.to_road, move.index), move.to_road)
        comes = (
            move.vehicle in working.rake or railway.plant.roads[move.from_road].station != leg.call.station if leg else False
        )
        if leg is not None and comes and leg.call.index > 0:
            found.append(at_leg(leg, move.vehicle, move.to_road))
    return found, found


def missed(railway: Railway) -> Found:
    """Lifts at a call on the way."""
    found = []
    roads = railway.plant.roads
    for move, working, lists in _rows(railway):
        lifted = move.vehicle not in working.rake and roads[move.from_road].station != roads[move.to_road].station
        job = Job(move.vehicle, move.from_road, None, move.index)
        leg = _last_call(railway, working, lists, job, move.from_road) if lifted else None
        if leg is not None:
            found.append(at_leg(leg, move.vehicle, move.from_road))
    return found, found


def wrong_sidings(railway: Railway) -> Found:
    """Set-outs for which there is another siding beside the booked one, with room, and a reader at its mouth."""
    found = []
    roads = railway.plant.roads
    for occasion in forgotten(railway)[0]:
        vehicle, booked = occasion.things
        for road in railway.plant.stations[occasion.station].roads:
            fits = room_left_mm(railway, road) >= railway.stock[vehicle].length_mm
            told = railway.stock[vehicle].tags and any(railway.plant.read_at(f"{road}@{end}") for end in roads[road].open)
            if _is_beside(roads[road], roads[booked]) and fits and told:
                found.append(Occasion(occasion.working, occasion.call, occasion.station, (vehicle, road)))
    return found, found


def full_sidings(railway: Railway) -> Found:
    """Set-outs with a siding beside the booked one that will be full by then, and whose mouth a reader watches."""
    found = []
    roads, stock = railway.plant.roads, railway.stock
    for move, working, lists in _rows(railway):
        booked = roads[move.to_road]
        job = Job(move.vehicle, None, move.to_road, move.index)
        calls = [c for c in working.calls[1:] if c.station == booked.station and lists.can_wait_for(working, c, job)]
        comes = roads[move.from_road].station != booked.station
        for road in railway.plant.stations[booked.station].roads if calls and comes else ():
            told = any(railway.plant.standing_at.get(f"{road}@{end}") for end in roads[road].open)
            over_mm = stock[move.vehicle].length_mm - room_left_mm(railway, road)
            if _is_beside(roads[road], booked) and told and 0.0 < over_mm <= NARROW_MM:
                found.append(Occasion(working.id, calls[-1].index, booked.station, (move.vehicle, road)))
    return found, found


def left_foul(railway: Railway) -> Found:
    """Set-outs in a siding with room, in a throat that a detector covers, and a train that is booked past it afterwards."""
    found = []
    plant = railway.plant
    for move, working, lists in _rows(railway):
        road = plant.roads[move.to_road]
        job = Job(move.vehicle, None, move.to_road, move.index)
        calls = [c for c in working.calls[1:] if c.station == road.station and lists.can_wait_for(working, c, job)]
        covered = len(road.open) == 1 and plant.covering.get(f"{road.station}.{road.open[0]}")
        seen = railway.stock[move.vehicle].detected and plant.roads[move.from_road].station != road.station
        if calls and covered and seen and road.kind is RoadKind.SIDING and room_left_mm(railway, road.id) >= 0.0:
            for leg in _coming_past(railway, road, working, calls[-1]):
                things = (move.vehicle, road.id, leg.working.id, leg.then.road)
                found.append(Occasion(working.id, calls[-1].index, road.station, things))
    return found, found


def _coming_past(railway: Railway, road: Road, working: Working, call: Call) -> Iterator[Leg]:
    """Trains booked to come in past a siding's mouth after a call, on a road that it fouls."""
    for leg in legs(railway):
        times = call.arrive_s, leg.then.arrive_s
        later = times[0] is not None and times[1] is not None and times[0] < times[1]
        if leg.then.road in road.fouls and leg.into == f"{road.station}.{road.open[0]}" and later and leg.working != working:
            yield leg


def room_left_mm(railway: Railway, road: str) -> float:
    """What is free on a road beside all that stands there at the start and all that is booked to come."""
    there = {row.vehicle for row in railway.standing if row.place == road}
    there |= {move.vehicle for move in railway.moves if move.to_road == road}
    return railway.plant.roads[road].length_mm - sum(railway.stock[vehicle].length_mm for vehicle in there)


def _is_beside(road: Road, other: Road) -> bool:
    """Whether a road is another siding that is open at the same end."""
    return road.kind is RoadKind.SIDING and set(road.open) == set(other.open) and road.id != other.id
