"""Where a plan gives a crew the occasion for each mistake: which working at which of its calls, and what it touches there.

Rule: an occasion is one that the railway's detectors can tell of; those that disturb the other trains least are the likely
ones, from which the seed chooses.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from bridge.core.plan import Call, Move, Railway, Working
from bridge.core.plant import Detector, DetectorKind, Plant, RoadKind, Section, SectionRule
from bridge.virtual.crew.lists import Job, Lists

MINUTE_S = 60.0


@dataclass(frozen=True, slots=True)
class Occasion:
    """A working at its call of this index, and the ids of what the mistake touches: vehicle, road, section, detector, train."""

    working: str
    call: int
    station: str
    things: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """Whatever it can be named by."""
        return (*self.things, self.working, self.station)


@dataclass(frozen=True, slots=True)
class Leg:
    """From one call of a working to the next: the section, and the throats by which it leaves and comes in."""

    working: Working
    call: Call
    then: Call
    section: Section
    out: str
    into: str


Found = tuple[list[Occasion], list[Occasion]]


def legs(railway: Railway) -> Iterator[Leg]:
    """All booked runs."""
    for working in railway.workings.values():
        for call in working.calls[:-1]:
            leg = leg_of(railway, working, call)
            if leg is not None:
                yield leg


def leg_of(railway: Railway, working: Working, call: Call) -> Leg | None:
    """The run from a call; None from the last, or where no section leads on."""
    if call.index + 1 >= len(working.calls):
        return None
    plant, then = railway.plant, working.calls[call.index + 1]
    section = plant.section_between(call.station, then.station)
    if section is None:
        return None
    throats = (section.from_throat, section.to_throat)
    out, into = throats if plant.throats[throats[0]].station == call.station else throats[::-1]
    return Leg(working, call, then, section, out, into)


def at_mouth(plant: Plant, section: str, throat: str) -> tuple[Detector, ...]:
    """The treadles and readers where a section meets a throat."""
    ids = [boundary.id for boundary in plant.at_stretch[section] if boundary.throat == throat]
    return tuple(detector for boundary in ids for detector in plant.standing_at.get(boundary, ()))


def _tells_of_entry(plant: Plant, leg: Leg) -> bool:
    """Whether a detector tells that a train is out in its section."""
    return bool(plant.covering.get(leg.section.id) or at_mouth(plant, leg.section.id, leg.out))


def _at(leg: Leg, *things: str) -> Occasion:
    return Occasion(leg.working.id, leg.call.index, leg.call.station, things)


# -- freight -----------------------------------------------------------------------------------------------------------


def _rows(railway: Railway) -> Iterator[tuple[Move, Working, Lists]]:
    lists = Lists(railway)
    for move in railway.moves:
        working = railway.workings.get(lists.working_of.get(move.index, ""))
        if working is not None:
            yield move, working, lists


def _last_call(railway: Railway, working: Working, lists: Lists, job: Job, road: str) -> Leg | None:
    """The run on which a working leaves the last call at which it could do a job on a road; None where it goes no further."""
    station = railway.plant.roads[road].station
    calls = [c for c in working.calls if c.station == station and lists.can_wait_for(working, c, job)]
    leg = leg_of(railway, working, calls[-1]) if calls else None
    return leg if leg is not None and _tells_of_entry(railway.plant, leg) else None


def forgotten(railway: Railway) -> Found:
    """Set-outs at a call from which the working goes on."""
    found = []
    for move, working, lists in _rows(railway):
        leg = _last_call(railway, working, lists, Job(move.vehicle, None, move.to_road, move.index), move.to_road)
        comes = (
            move.vehicle in working.rake or railway.plant.roads[move.from_road].station != leg.call.station if leg else False
        )
        if leg is not None and comes and leg.call.index > 0:
            found.append(_at(leg, move.vehicle, move.to_road))
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
            found.append(_at(leg, move.vehicle, move.from_road))
    return found, found


def wrong_sidings(railway: Railway) -> Found:
    """Set-outs for which there is another siding beside the booked one, with room."""
    found = []
    roads = railway.plant.roads
    for occasion in forgotten(railway)[0]:
        vehicle, booked = occasion.things
        for road in railway.plant.stations[occasion.station].roads:
            beside = roads[road].kind is RoadKind.SIDING and set(roads[road].open) == set(roads[booked].open)
            if beside and road != booked and room_left_mm(railway, road) >= railway.stock[vehicle].length_mm:
                found.append(Occasion(occasion.working, occasion.call, occasion.station, (vehicle, road)))
    return found, found


def room_left_mm(railway: Railway, road: str) -> float:
    """What is free on a road beside all that stands there at the start and all that is booked to come."""
    there = {row.vehicle for row in railway.standing if row.place == road}
    there |= {move.vehicle for move in railway.moves if move.to_road == road}
    return railway.plant.roads[road].length_mm - sum(railway.stock[vehicle].length_mm for vehicle in there)


# -- on the line -------------------------------------------------------------------------------------------------------


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
    """Trains that stand where another departs, on a road from which they too get into its section."""
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
                if beside and leads and _tells_of_entry(plant, leg) and _stands_then(call, leg.call.depart_s):
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
        if depart_s is None or not _tells_of_entry(railway.plant, leg):
            continue
        if arrive_s is None or leg.call.wait_for or arrive_s + 4 * MINUTE_S <= depart_s:
            found.append(_at(leg, *leg.call.wait_for))
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
        ):
            found.append(_at(leg, leg.section.id))
    return found, found


def unproved(railway: Railway) -> Found:
    """What a proof guards on the way of a train."""
    plant = railway.plant
    found = []
    for leg in legs(railway):
        for detector in plant.detectors.values():
            way = (leg.out, leg.section.id, leg.into, leg.then.road)
            if detector.kind is DetectorKind.PROOF and detector.guards in way and _tells_of_entry(plant, leg):
                found.append(_at(leg, detector.id))
    return found, found


# -- tokens ------------------------------------------------------------------------------------------------------------


def _by_token(railway: Railway) -> Iterable[Leg]:
    rules = (SectionRule.TOKEN, SectionRule.STAFF_AND_TICKET)
    return (leg for leg in legs(railway) if leg.section.rule in rules and _tells_of_entry(railway.plant, leg))


def without_token(railway: Railway) -> Found:
    """Runs through a section that is worked by token."""
    found = [(leg, _at(leg, leg.section.id)) for leg in _by_token(railway)]
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
                found.append(_at(leg, leg.section.id, other.working.id))
    return found, found


OCCASIONS: dict[str, Callable[[Railway], Found]] = {
    "forgotten-set-out": forgotten,
    "missed-lift": missed,
    "wrong-siding": wrong_sidings,
    "wrong-road": wrong_roads,
    "section-clash": clashes,
    "early-departure": early,
    "divided": divisions,
    "bridge-open": unproved,
    "no-token": without_token,
    "token-kept": kept_tokens,
    "wrong-token": others_tokens,
}
"""For each mistake: all its occasions, and the likely ones."""
