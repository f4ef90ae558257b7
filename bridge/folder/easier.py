"""On which other trip of the plan a siding that faces the wrong way comes easier.

Rule: only goods workings are named, whose engine comes to the siding's station at the right end of its train, and that can
have the wagon: they pass both ends of its move, or take it on from the booked working, or hand it on to that.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.plan import Call, Working
from bridge.folder.clock import when
from bridge.folder.compositions import Compositions
from bridge.folder.ends import engine_end
from bridge.forecast.course import Step
from bridge.forecast.rows import Handled


def easier(trains: Compositions, booked: Working, row: Handled, *, lifts: bool) -> str:
    """A sentence with a space before it; empty where no other trip is easier."""
    road = trains.railway.plant.roads[row.move.from_road if lifts else row.move.to_road]
    order = {step: n for n, step in enumerate(trains.course)}
    best: tuple[int, int, str] | None = None
    for other, call in _right_way(trains, road.station, road.open[0]):
        if (other.id, call.index) == (booked.id, row.lifted if lifts else row.set_out):
            continue
        if other is booked:
            found = _again(booked, call, row, lifts)
        else:
            found = _direct(trains, other, call, row, lifts) or _handed(booked, row, other, call, order, lifts)
        if found is not None:
            far = abs(order[Step(other.id, call.index, False)] - order[Step(booked.id, _at(row, lifts), False)])
            best = min(filter(None, (best, (found[0], far, found[1]))))
    return "" if best is None else " " + best[2]


def _at(row: Handled, lifts: bool) -> int:
    return row.lifted if lifts and row.lifted is not None else row.set_out


def _right_way(trains: Compositions, station: str, end: str) -> Iterator[tuple[Working, Call]]:
    for working in (working for working in trains.railway.workings.values() if working.kind == "goods"):
        for call in working.calls:
            if call.station == station and engine_end(trains.railway, working, call.index) == end:
                yield working, call


def _again(booked: Working, call: Call, row: Handled, lifts: bool) -> tuple[int, str] | None:
    """The same working at another of its calls."""
    has_it = call.index < row.set_out if lifts else row.lifted is None or call.index > row.lifted
    if not has_it:
        return None
    number = 1 + sum(c.station == call.station for c in booked.calls[: call.index])
    return 0, f"It comes easier at call {number} of {booked.id} there{when(call)}: write {number} in its `call`."


def _direct(trains: Compositions, other: Working, call: Call, row: Handled, lifts: bool) -> tuple[int, str] | None:
    """Another working that has the whole move on its way."""
    roads = trains.railway.plant.roads
    far = roads[row.move.to_road if lifts else row.move.from_road].station
    calls = other.calls[call.index + 1 :] if lifts else other.calls[: call.index]
    if not any(c.station == far for c in calls):
        return None
    return 0, f"It comes easier with {other.id}{when(call)}, whose engine is at the right end."


def _handed(
    booked: Working, row: Handled, other: Working, call: Call, order: dict[Step, int], lifts: bool
) -> tuple[int, str] | None:
    """A working that comes back with what the booked one has carried past, or that fetches what the booked one takes on."""
    if lifts:
        first, then = other.calls[call.index + 1 :], booked.calls[: _at(row, lifts) + 1]
    else:
        first, then = booked.calls[row.set_out + 1 :], other.calls[: call.index]
    for brings in first:
        for takes in then:
            giver, taker = (other, booked) if lifts else (booked, other)
            meet = brings.station == takes.station
            if meet and order[Step(giver.id, brings.index, False)] < order[Step(taker.id, takes.index, True)]:
                way = f"let it bring to {brings.station} what {booked.id} is to have"
                if not lifts:
                    way = f"let {booked.id} carry on to {brings.station} what goes there"
                return 1, f"It comes easier with {other.id}{when(call)}: {way}."
    return None
