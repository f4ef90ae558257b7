"""When each working is booked to be in which section, and which of these runs overlap.

Rule: a run begins as the train leaves one station and ends as it arrives at the next; that moment is not part of it. A train
may enter a section at the very second at which another arrives out of it: timetables are written in whole minutes, and the
crew at the crossing sees the one in before the other goes. One train in a section, however it is worked: trains that follow
each other on tickets do so one after the other. Source: not more than one train in a block section on the same line at once
(LNER Regulations 1009/1, Absolute Block).

Nothing is told that the times do not prove. One time alone at a call stands for both, as at a station that is passed, unless
the train waits there; the booked running of the section stands for a time that is not given.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Plant, Section


@dataclass(frozen=True, slots=True)
class Run:
    """A working in a section, session seconds, the end not included; `call` is the call (from 0) that it leaves."""

    section: str
    working: str
    call: int
    enters_s: float
    leaves_s: float


def joins(plant: Plant) -> dict[tuple[str, str], list[Section]]:
    """The sections by which a train may run from one station to another, by their directions."""
    found: dict[tuple[str, str], list[Section]] = {}
    for section in plant.sections.values():
        one, other = section.from_throat.partition(".")[0], section.to_throat.partition(".")[0]
        pairs = {"down": (one, other), "up": (other, one)}
        for pair in dict.fromkeys(pairs[way] for way in section.directions):
            found.setdefault(pair, []).append(section)
    return found


def runs(railway: Railway, workings: Iterable[Working]) -> Iterator[Run]:
    """The runs of these workings whose section and times are known."""
    joined = joins(railway.plant)
    for working in workings:
        for here, then in pairwise(working.calls):
            section = railway.plant.section_between(here.station, then.station)
            if section is None or len(joined.get((here.station, then.station), ())) > 1:
                continue
            span = _span_s(here, then, section.minutes.get(working.kind))
            if span is not None:
                yield Run(section.id, working.id, here.index, *span)


def overlapping(booked: Iterable[Run]) -> list[tuple[Run, Run]]:
    """Every pair of different workings that are in one section at one time, the first in first. A run that takes no whole
    minute counts where it falls within another."""
    found: list[tuple[Run, Run]] = []
    inside: dict[str, list[Run]] = {}
    for run in sorted(booked, key=lambda r: (r.enters_s, r.leaves_s)):
        there = [other for other in inside.get(run.section, ()) if other.leaves_s > run.enters_s]
        found += [(other, run) for other in there if other.working != run.working]
        inside[run.section] = [*there, run]
    return found


def _span_s(here: Call, then: Call, booked_minutes: float | None) -> tuple[float, float] | None:
    """When a train enters and leaves, None where the times do not say it or run backwards."""
    enters_s, leaves_s = here.depart_s, then.arrive_s
    if booked_minutes is not None:
        if enters_s is None and leaves_s is not None:
            enters_s = max(leaves_s - booked_minutes * 60, -math.inf if here.arrive_s is None else here.arrive_s)
        elif leaves_s is None and enters_s is not None:
            leaves_s = min(enters_s + booked_minutes * 60, math.inf if then.depart_s is None else then.depart_s)
    enters_s = _alone(here.arrive_s, here) if enters_s is None else enters_s
    leaves_s = _alone(then.depart_s, then) if leaves_s is None else leaves_s
    return None if enters_s is None or leaves_s is None or leaves_s < enters_s else (enters_s, leaves_s)


def _alone(t_s: float | None, call: Call) -> float | None:
    """The one time given at a call, for the other: not where the train waits, for it may be there much longer."""
    return None if call.wait_for else t_s
