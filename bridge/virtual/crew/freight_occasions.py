"""Occasions for mistakes with wagons: what is booked to be set out or lifted on the way, and the sidings beside it.

Rule: a set-out or lift is only one where the working goes on afterwards, past a detector that tells of it.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.plan import Move, Railway, Working
from bridge.core.plant import Road, RoadKind
from bridge.virtual.crew.lists import Job, Lists
from bridge.virtual.crew.occasions import Found, Leg, Occasion, at_leg, leg_of, tells_of_entry

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
    """Set-outs for which there is another siding beside the booked one, with room."""
    found = []
    roads = railway.plant.roads
    for occasion in forgotten(railway)[0]:
        vehicle, booked = occasion.things
        for road in railway.plant.stations[occasion.station].roads:
            if _is_beside(roads[road], roads[booked]) and room_left_mm(railway, road) >= railway.stock[vehicle].length_mm:
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


def room_left_mm(railway: Railway, road: str) -> float:
    """What is free on a road beside all that stands there at the start and all that is booked to come."""
    there = {row.vehicle for row in railway.standing if row.place == road}
    there |= {move.vehicle for move in railway.moves if move.to_road == road}
    return railway.plant.roads[road].length_mm - sum(railway.stock[vehicle].length_mm for vehicle in there)


def _is_beside(road: Road, other: Road) -> bool:
    """Whether a road is another siding that is open at the same end."""
    return road.kind is RoadKind.SIDING and set(road.open) == set(other.open) and road.id != other.id
