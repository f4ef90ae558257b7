"""The evening in the order in which it is booked: every coming and going of every working, one after the other.

Rule: a working keeps its own order, an engine works one working after the other, a train leaves after those for which it
waits; what is left open by that is ordered by the times that are given. Where workings wait for each other in a circle the
earliest goes: that they do is told elsewhere.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from bridge.core.plan import Railway, Working
from bridge.forecast.overfull import in_order

Rank = tuple[float, int, int]


class Step(NamedTuple):
    """A working comes to one of its calls (from 0), or `leaves` it; at its last call that says that its work there is
    done."""

    working: str
    call: int
    leaves: bool


def course(railway: Railway) -> tuple[Step, ...]:
    """Every step of every working that has calls, in order."""
    workings = [working for working in in_order(railway.workings.values()) if working.calls]
    rank = _ranks(workings)
    waiting = _befores(railway, workings)
    then: dict[Step, list[Step]] = {}
    for step, befores in waiting.items():
        for before in befores:
            then.setdefault(before, []).append(step)
    free = [(rank[step], step) for step, befores in waiting.items() if not befores]
    heapq.heapify(free)
    found: dict[Step, None] = {}
    while len(found) < len(rank):
        step = heapq.heappop(free)[1] if free else _earliest(rank, waiting, found)
        found[step] = None
        for later in then.get(step, ()):
            waiting[later].discard(step)
            if not waiting[later] and later not in found:
                heapq.heappush(free, (rank[later], later))
    return tuple(found)


def _earliest(rank: Mapping[Step, Rank], waiting: Mapping[Step, set[Step]], done: Mapping[Step, None]) -> Step:
    """Where all that is left waits for each other: which goes. A working keeps its own order even then."""
    next_ = (s for s in rank if s not in done and all(before.working != s.working for before in waiting[s]))
    return min(next_, key=rank.__getitem__)


def waits(railway: Railway) -> Iterator[tuple[Step, Step]]:
    """Of every train that waits for another at a station: its leaving, and the other's coming there."""
    for working in railway.workings.values():
        for call in working.calls:
            for name in call.wait_for:
                calls = railway.workings[name].calls if name in railway.workings else ()
                there = next((other.index for other in calls if other.station == call.station), None)
                if there is not None:
                    yield Step(working.id, call.index, True), Step(name, there, False)


def successions(workings: Sequence[Working]) -> Iterator[tuple[Working, Working]]:
    """Each working with the next of its engine; `workings` in the order in which they begin."""
    last: dict[str, Working] = {}
    for working in workings:
        if working.engine in last:
            yield last[working.engine], working
        last[working.engine] = working


def _befores(railway: Railway, workings: Sequence[Working]) -> dict[Step, set[Step]]:
    found: dict[Step, set[Step]] = {}
    for working in workings:
        before: Step | None = None
        for call in working.calls:
            for leaves in (False, True):
                step = Step(working.id, call.index, leaves)
                found[step] = set() if before is None else {before}
                before = step
    for leaving, coming in waits(railway):
        found[leaving].add(coming)
    for first, second in successions(workings):
        found[Step(second.id, 0, False)].add(Step(first.id, len(first.calls) - 1, True))
    return found


def _ranks(workings: Sequence[Working]) -> dict[Step, Rank]:
    """What orders steps that nothing else orders: the time, as far as one is given, then workings as they begin. A step
    without a time has that of the one before it; a working without any that of the working before it."""
    found: dict[Step, Rank] = {}
    began_s = -math.inf
    for place, working in enumerate(workings):
        times = [(call.arrive_s, call.depart_s) for call in working.calls]
        began_s = now_s = next((t_s for pair in times for t_s in reversed(pair) if t_s is not None), began_s)
        for call, given in enumerate(times):
            for leaves, t_s in zip((False, True), given, strict=True):
                now_s = now_s if t_s is None else t_s
                found[Step(working.id, call, leaves)] = (now_s, place, 2 * call + leaves)
    return found
