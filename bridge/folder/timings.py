"""The times of the timetable held against each other: one train in a section at a time, nobody waiting in vain.

Rule: where times are not given the order alone is booked, and nothing is told that the times do not prove. What overlapping
means stands in `bridge.forecast.section_runs`.
"""

from __future__ import annotations

import graphlib
from collections.abc import Iterable
from itertools import pairwise

from bridge.core.plan import Railway, Working
from bridge.folder.clock import clock
from bridge.folder.finding import Spot
from bridge.folder.places import Places
from bridge.forecast.course import Step, successions, waits
from bridge.forecast.overfull import in_order
from bridge.forecast.section_runs import Run, overlapping, runs


def tell_timings(railway: Railway, places: Places) -> None:
    """Every conflict of the timetable."""
    sure = [working for working in railway.workings.values() if ("working", working.id) not in places.doubtful]
    for working in sure:
        _times_in_order(working, places)
        _waits(railway, working, places)
    for first, second in overlapping(runs(railway, sure)):
        _clash(railway, first, second, places)
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


def _clash(railway: Railway, first: Run, second: Run, places: Places) -> None:
    times = [f"{run.working} from {clock(run.enters_s)} to {clock(run.leaves_s)}" for run in (first, second)]
    message = f"Two trains in section {second.section}: {times[0]} ({_spot(railway, first, places).named()}) and {times[1]}."
    remedy = f"Let {second.working} wait until {clock(first.leaves_s)}, or change the other."
    places.findings.conflict(_spot(railway, second, places), message, remedy)


def _spot(railway: Railway, run: Run, places: Places) -> Spot:
    """The cell that says when a working enters a section or, where none does, when it comes out."""
    left = railway.workings[run.working].calls[run.call]
    column, call = ("depart", run.call) if left.depart_s is not None else ("arrive", run.call + 1)
    return places.spots[f"call.{column}", run.working, call]


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
            comes_s = calls[0].depart_s if calls[0].arrive_s is None and calls[0].index else calls[0].arrive_s
            if comes_s is not None and call.depart_s is not None and comes_s > call.depart_s:
                places.findings.conflict(
                    spot,
                    f"Working {working.id} leaves at {clock(call.depart_s)}; {other_id}, for which it waits, comes at "
                    f"{clock(comes_s)}.",
                    "Let it leave later, or take the wait out.",
                )


def _befores(railway: Railway) -> Iterable[tuple[Step, Step]]:
    """Each step after the one that must have been before it, waits last."""
    for working in railway.workings.values():
        steps = [Step(working.id, call.index, leaves) for call in working.calls for leaves in (False, True)]
        yield from ((after, before) for before, after in pairwise(steps))
    for first, second in successions([w for w in in_order(railway.workings.values()) if w.calls]):
        yield Step(second.id, 0, False), Step(first.id, len(first.calls) - 1, False)
    yield from waits(railway)


def _circles(railway: Railway, places: Places) -> None:
    """Trains that wait for each other in a circle, whatever the times say; an engine's next working waits for its last."""
    befores = list(_befores(railway))
    waiting = set(waits(railway))
    while True:
        sorter: graphlib.TopologicalSorter[Step] = graphlib.TopologicalSorter()
        for after, before in befores:
            sorter.add(after, before)
        try:
            sorter.prepare()
        except graphlib.CycleError as error:
            circle: list[Step] = error.args[1]
        else:
            return
        before, after = next((b, a) for b, a in pairwise(circle) if (a, b) in waiting)
        befores.remove((after, before))
        names = sorted({step.working for step in circle})
        places.findings.conflict(
            places.spots["call.wait_for", after.working, after.call],
            f"Workings {', '.join(names)} wait for each other in a circle: none of them can leave.",
            "Take one of the waits out.",
        )
