"""The times of the timetable held against each other: one train in a section at a time, nobody waiting in vain.

Rule: where times are not given the order alone is booked, and nothing is told that the times do not prove.
"""

from __future__ import annotations

import graphlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Section
from bridge.folder.evening import clock
from bridge.folder.finding import Spot
from bridge.folder.places import Places
from bridge.folder.runs import sections_between

Step = tuple[str, int, str]


@dataclass(frozen=True, slots=True)
class _Booked:
    """A working in a section, session seconds; `spot` is the cell that says when it enters, or comes out."""

    start_s: float
    end_s: float
    working: str
    spot: Spot


def tell_timings(railway: Railway, places: Places) -> None:
    """Every conflict of the timetable."""
    booked: dict[str, list[_Booked]] = {}
    for working in railway.workings.values():
        if ("working", working.id) in places.doubtful:
            continue
        _times_in_order(working, places)
        for here, then in pairwise(working.calls):
            section = railway.plant.section_between(here.station, then.station)
            if section is None or len(sections_between(railway.plant, here.station, then.station)) > 1:
                continue
            span = _span(working, here, then, section, places)
            if span is not None:
                booked.setdefault(section.id, []).append(span)
        _waits(railway, working, places)
    for section_id, spans in booked.items():
        _clashes(section_id, spans, places)
    _circles(railway, places)


def _times_in_order(working: Working, places: Places) -> None:
    latest: tuple[float, str] | None = None
    for call in working.calls:
        for column, at_s in (("arrive", call.arrive_s), ("depart", call.depart_s)):
            if at_s is None:
                continue
            if latest is not None and at_s < latest[0] and not (column == "depart" and call.arrive_s is not None):
                places.findings.conflict(
                    places.spots[f"call.{column}", working.id, call.index],
                    f"Working {working.id} is here at {clock(at_s)}, before {clock(latest[0])} at {latest[1]}.",
                    f"Put its calls in order; past midnight times go on, like {clock(at_s + 86400)}.",
                )
            latest = (at_s, call.station)


def _span(working: Working, here: Call, then: Call, section: Section, places: Places) -> _Booked | None:
    """When a working is in a section, as far as times and booked running say it."""
    minutes = section.minutes.get(working.kind)
    running_s = None if minutes is None else minutes * 60
    start_s, end_s = here.depart_s, then.arrive_s
    if end_s is None and start_s is not None and running_s is not None:
        end_s = start_s + running_s
    if end_s is None:
        end_s = then.depart_s
    if start_s is None and then.arrive_s is not None and running_s is not None:
        start_s = then.arrive_s - running_s
    if start_s is None or end_s is None or end_s <= start_s:
        return None
    told = ("call.depart", working.id, here.index) if here.depart_s is not None else ("call.arrive", working.id, then.index)
    return _Booked(start_s, end_s, working.id, places.spots[told])


def _clashes(section: str, spans: list[_Booked], places: Places) -> None:
    """Touching at an instant is no overlap."""
    inside: list[_Booked] = []
    for span in sorted(spans, key=lambda s: (s.start_s, s.end_s)):
        inside = [other for other in inside if other.end_s > span.start_s]
        for other in inside:
            if other.working != span.working:
                places.findings.conflict(
                    span.spot,
                    f"Two trains in section {section}: {other.working} from {clock(other.start_s)} to {clock(other.end_s)} "
                    f"({other.spot.named()}) and {span.working} from {clock(span.start_s)} to {clock(span.end_s)}.",
                    f"Let {span.working} wait until {clock(other.end_s)}, or change the other.",
                )
        inside.append(span)


def _waits(railway: Railway, working: Working, places: Places) -> None:
    """What a working waits for must come to the same station, and in time."""
    for call in working.calls:
        spot = places.spots["call.wait_for", working.id, call.index]
        for other_id in call.wait_for:
            calls = [c for c in railway.workings[other_id].calls if c.station == call.station]
            if ("working", other_id) in places.doubtful:
                continue
            if not calls:
                message = f"Working {working.id} waits at {call.station} for {other_id}, which never calls there."
                places.findings.conflict(spot, message, "Name a working that does, or take it out.")
                continue
            comes_s = calls[0].arrive_s
            if comes_s is not None and call.depart_s is not None and comes_s > call.depart_s:
                places.findings.conflict(
                    spot,
                    f"Working {working.id} leaves at {clock(call.depart_s)}; {other_id}, for which it waits, comes at "
                    f"{clock(comes_s)}.",
                    "Let it leave later, or take the wait out.",
                )


def _steps(railway: Railway) -> Iterator[tuple[Step, Step]]:
    """What must come after what: (working, call, "in" or "out") after the same."""
    for working in railway.workings.values():
        for call in working.calls:
            yield (working.id, call.index, "out"), (working.id, call.index, "in")
            if call.index:
                yield (working.id, call.index, "in"), (working.id, call.index - 1, "out")
            for other in call.wait_for:
                there = next((c.index for c in railway.workings[other].calls if c.station == call.station), None)
                if there is not None:
                    yield (working.id, call.index, "out"), (other, there, "in")


def _circles(railway: Railway, places: Places) -> None:
    """Trains that wait for each other in a circle, whatever the times say."""
    steps = list(_steps(railway))
    while True:
        sorter: graphlib.TopologicalSorter[Step] = graphlib.TopologicalSorter()
        for after, before in steps:
            sorter.add(after, before)
        try:
            sorter.prepare()
        except graphlib.CycleError as error:
            circle: list[Step] = error.args[1]
        else:
            return
        before, after = next((b, a) for b, a in pairwise(circle) if b[0] != a[0])
        steps.remove((after, before))
        names = sorted({name for name, _, _ in circle})
        places.findings.conflict(
            places.spots["call.wait_for", after[0], after[1]],
            f"Workings {', '.join(names)} wait for each other in a circle: none of them can leave.",
            "Take one of the waits out.",
        )
