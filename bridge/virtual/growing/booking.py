"""Times: each train after those booked before it, through sections that are free then, to roads that are free for it.

Rule: one train in a section at a time, one on a road at a time, and where two cross, whoever goes on waits for the other by
name. Times are session seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf

from bridge.core.plan import Call, Working
from bridge.core.plant import Road
from bridge.virtual.growing.line import Line

MINUTE_S = 60.0
TRIES = 60  # so many later starts are tried, five minutes apart


@dataclass(frozen=True, slots=True)
class Wanted:
    """A train to be booked. `stations` in order; `dwells_s`: at least so long at each; `start_road`: where it stands."""

    working: str
    kind: str
    engine: str
    stations: Sequence[str]
    dwells_s: Sequence[float]
    start_road: str
    length_mm: float
    earliest_s: float
    rake: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class _Span:
    start_s: float
    end_s: float
    working: str

    def meets(self, start_s: float, end_s: float) -> bool:
        return self.start_s < end_s and start_s < self.end_s


@dataclass
class Diagram:
    """What is booked so far. A train that is still to be booked keeps its road for the whole evening."""

    line: Line
    workings: list[Working] = field(default_factory=list)
    _sections: dict[str, list[_Span]] = field(default_factory=dict)
    _roads: dict[str, list[_Span]] = field(default_factory=dict)
    _waiting: dict[str, str] = field(default_factory=dict)  # engine -> the road it stands on

    def stands(self, engine: str, road: str) -> None:
        """An engine with its train stands here until it is booked away."""
        self._waiting[engine] = road

    def gone(self, engine: str) -> None:
        """It does not stand there any more."""
        self._waiting.pop(engine, None)

    def is_taken(self, road: str) -> bool:
        """Whether a train stands here at the beginning."""
        return road in self._waiting.values()

    def book(self, wanted: Wanted) -> Working | None:
        """The train with its times, or None where no way through the others is found."""
        for n in range(TRIES):
            calls = self._tried(wanted, wanted.earliest_s + n * 5 * MINUTE_S)
            if calls is not None:
                return self._entered(wanted, calls)
        return None

    def _tried(self, wanted: Wanted, start_s: float) -> list[Call] | None:
        stations, at_s = list(wanted.stations), start_s
        calls = [Call(0, stations[0], wanted.start_road, None, start_s)]
        for n, (here, there) in enumerate(pairwise(stations), 1):
            section = self.line.between(here, there)
            running_s = section.minutes[wanted.kind] * MINUTE_S
            leaves_s = self._free_from(section.id, calls[-1].depart_s or at_s, running_s)
            came_s = calls[-1].arrive_s
            if not self._is_free(calls[-1].road, -inf if came_s is None else came_s, leaves_s, wanted.engine):
                return None
            calls[-1] = Call(calls[-1].index, here, calls[-1].road, came_s, leaves_s)
            arrives_s = leaves_s + running_s
            goes_s = inf if n == len(stations) - 1 else arrives_s + wanted.dwells_s[n]
            beyond = stations[n + 1] if n + 1 < len(stations) else None
            road = self._road(wanted, (here, there, beyond), arrives_s, goes_s)
            if road is None:
                return None
            calls.append(Call(n, there, road, arrives_s, None if goes_s == inf else goes_s))
        return calls

    def _free_from(self, section: str, from_s: float, for_s: float) -> float:
        """The first instant from which a section is free for so long."""
        at_s = from_s
        for span in sorted(self._sections.get(section, ()), key=lambda span: span.start_s):
            if span.meets(at_s - MINUTE_S, at_s + for_s + MINUTE_S):
                at_s = span.end_s + MINUTE_S
        return at_s

    def _is_free(self, road: str, from_s: float, to_s: float, engine: str) -> bool:
        if any(where == road and other != engine for other, where in self._waiting.items()):
            return False
        return not any(span.meets(from_s - MINUTE_S, to_s + MINUTE_S) for span in self._roads.get(road, ()))

    def _road(self, wanted: Wanted, way: tuple[str, str, str | None], from_s: float, to_s: float) -> str | None:
        """A road to come in on that is open where the train comes and goes, and long enough."""
        before, here, beyond = way
        ends = [self.line.end_towards(here, other) for other in (before, beyond) if other is not None]

        def fits(road: Road) -> bool:
            is_open = all(end in road.open for end in ends)
            return is_open and road.length_mm >= wanted.length_mm and self._is_free(road.id, from_s, to_s, wanted.engine)

        roads = [road.id for road in self.line.through(here) if fits(road)]
        if not roads:
            return None
        return roads[-1] if wanted.kind == "goods" else roads[0]

    def _entered(self, wanted: Wanted, calls: list[Call]) -> Working:
        working = Working(wanted.working, wanted.kind, wanted.engine, tuple(calls), tuple(wanted.rake))
        self.workings.append(working)
        for call in calls:
            from_s = -inf if call.arrive_s is None else call.arrive_s
            to_s = inf if call.depart_s is None else call.depart_s
            spans = self._roads.setdefault(call.road, [])
            if call.index == 0:  # the end of the train before, with this engine, is its beginning
                spans[:] = [s for s in spans if not (s.end_s == inf and self._engine_of(s.working) == wanted.engine)]
            spans.append(_Span(from_s, to_s, wanted.working))
        for here, then in pairwise(calls):
            section = self.line.between(here.station, then.station)
            leaves_s, arrives_s = here.depart_s or 0.0, then.arrive_s or 0.0
            self._sections.setdefault(section.id, []).append(_Span(leaves_s, arrives_s, wanted.working))
        self._waiting.pop(wanted.engine, None)
        return working

    def _engine_of(self, working: str) -> str:
        return next(w.engine for w in self.workings if w.id == working)

    def has_run_round(self, call: Call) -> bool:
        """Whether a second road is free for the whole of a call, open at both ends as the train's own is."""
        from_s = -inf if call.arrive_s is None else call.arrive_s
        to_s = inf if call.depart_s is None else call.depart_s
        both = [road.id for road in self.line.through(call.station) if len(road.open) == 2]
        return call.road in both and any(r != call.road and self._is_free(r, from_s, to_s, "") for r in both)

    def finished(self) -> dict[str, Working]:
        """All trains by their first departure, with the crossings at which they wait for each other."""
        ordered = sorted(self.workings, key=lambda working: working.calls[0].depart_s or 0.0)
        return {working.id: self._with_waits(working) for working in ordered}

    def _with_waits(self, working: Working) -> Working:
        calls = []
        for call, then in zip(working.calls, (*working.calls[1:], None), strict=True):
            waits = () if then is None else tuple(self._met(working, call, then))
            calls.append(Call(call.index, call.station, call.road, call.arrive_s, call.depart_s, waits))
        return Working(working.id, working.kind, working.engine, tuple(calls), working.rake)

    def _met(self, working: Working, call: Call, then: Call) -> list[str]:
        """The trains that come out of the section into which this one leaves, while it stands at a call."""
        found = []
        for other in self.workings:
            here = next((c for c in other.calls if c.station == call.station), None)
            if other.engine == working.engine or here is None or here.index == 0 or here.arrive_s is None:
                continue
            comes_from = other.calls[here.index - 1].station
            stays_from_s = -inf if call.arrive_s is None else call.arrive_s
            if comes_from == then.station and stays_from_s <= here.arrive_s <= (call.depart_s or 0.0):
                found.append(other.id)
        return found
