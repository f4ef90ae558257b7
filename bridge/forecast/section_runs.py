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

    def overlaps(self, other: Run) -> bool:
        """Whether both are in their section at one time. One that takes no whole minute counts where it falls within."""
        return self.enters_s < other.leaves_s and other.enters_s < self.leaves_s


def sections_between(plant: Plant, start: str, end: str) -> list[Section]:
    """The sections by which a train may run from one station to another, by their directions."""
    found: list[Section] = []
    for section in plant.sections.values():
        ends = (_station(section.from_throat), _station(section.to_throat))
        ways = (("down", ends), ("up", ends[::-1]))
        if any(pair == (start, end) and way in section.directions for way, pair in ways):
            found.append(section)
    return found


def _station(throat: str) -> str:
    return throat.partition(".")[0]


def runs(railway: Railway, working: Working) -> Iterator[Run]:
    """The runs of a working whose section and times are known."""
    for here, then in pairwise(working.calls):
        section = railway.plant.section_between(here.station, then.station)
        if section is None or len(sections_between(railway.plant, here.station, then.station)) > 1:
            continue
        span = _span_s(here, then, section.minutes.get(working.kind))
        if span is not None:
            yield Run(section.id, working.id, here.index, *span)


def overlapping(booked: Iterable[Run]) -> list[tuple[Run, Run]]:
    """Every pair of different workings that are in one section at one time, the first in first."""
    found: list[tuple[Run, Run]] = []
    inside: dict[str, list[Run]] = {}
    for run in sorted(booked, key=lambda r: (r.enters_s, r.leaves_s)):
        there = [other for other in inside.get(run.section, ()) if other.leaves_s > run.enters_s]
        found += [(other, run) for other in there if other.working != run.working and other.overlaps(run)]
        inside[run.section] = [*there, run]
    return found


def _span_s(here: Call, then: Call, booked_minutes: float | None) -> tuple[float, float] | None:
    """When a train enters and leaves, None where the times do not say it or run backwards."""
    running_s = None if booked_minutes is None else booked_minutes * 60
    enters_s, leaves_s = here.depart_s, then.arrive_s
    if enters_s is None and leaves_s is not None and running_s is not None:
        enters_s = leaves_s - running_s
    if leaves_s is None and enters_s is not None and running_s is not None:
        leaves_s = enters_s + running_s
    enters_s = _alone(here.arrive_s, here) if enters_s is None else enters_s
    leaves_s = _alone(then.depart_s, then) if leaves_s is None else leaves_s
    return None if enters_s is None or leaves_s is None or leaves_s < enters_s else (enters_s, leaves_s)


def _alone(t_s: float | None, call: Call) -> float | None:
    """The other time of a call for the one not given: a train that waits may be there much longer."""
    return None if call.wait_for else t_s
