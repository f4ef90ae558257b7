"""What the folder alone lets one believe: all stands as the file says, and then moves as booked, at the booked times.

Rule: of the records only `begin` counts, which sets the clock going; no detector is heard. A wagon goes with its train from
the departure of the call at which it is booked to be lifted, until its train is booked to arrive where it is booked to be
set out; other vehicles of a rake go with it from end to end. It is always sure. Of order it knows what the file says.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from bridge.core.clock import SessionClock, parse_clock
from bridge.core.plan import Move, Railway, Working
from bridge.wire.records import Record, Said

from .engine import Held, Row


@dataclass(frozen=True, slots=True)
class _Stays:
    """From this session second on it is there."""

    from_s: float
    place: str


class PlanOnly:
    """One evening of it."""

    says = False

    def __init__(self, railway: Railway) -> None:
        self.micros: list[float] = []
        self.reads: list[float] = []
        self._railway = railway
        self._clock = SessionClock(railway.plant.clock)
        self._t = 0.0
        self._orders = {row.vehicle: row.order for row in railway.standing}
        self._stays = {vehicle: [_Stays(-inf, "off")] for vehicle in railway.stock}
        for row in railway.standing:
            self._stays[row.vehicle] = [_Stays(-inf, row.place)]
        for working in railway.workings.values():
            for vehicle in dict.fromkeys((working.engine, *working.rake, *(move.vehicle for move in self._moves(working)))):
                self._stays[vehicle] += self._carried(working, vehicle)
        for stays in self._stays.values():
            stays.sort(key=lambda each: each.from_s)

    def take(self, record: Record) -> Sequence[Row]:
        """Words that begin the session count; all else is nothing to it."""
        self._t = record.t
        words = record.words.split() if isinstance(record, Said) else []
        if len(words) == 2 and words[0] == "begin":
            self._clock.begin(parse_clock(words[1]) or 0.0, record.t)
        return ()

    def until(self, t: float) -> Sequence[Row]:
        """Second `t` has come."""
        self._t = t
        return ()

    def close(self) -> Sequence[Row]:
        """It says nothing."""
        return ()

    def beliefs(self) -> Mapping[str, Held]:
        """Where the plan has them now."""
        session_s = self._clock.session_s(self._t)
        now_s = -inf if session_s is None else session_s
        found = {}
        for vehicle, stays in self._stays.items():
            last = [each for each in stays if each.from_s <= now_s][-1]
            found[vehicle] = Held(last.place, self._orders.get(vehicle) if last is stays[0] else None, 1.0)
        return found

    def _moves(self, working: Working) -> list[Move]:
        return [move for move in self._railway.moves if self._working_of(move) == working.id]

    def _working_of(self, move: Move) -> str | None:
        """The train by which a vehicle is booked; where none is named, the first that calls at both stations in turn."""
        roads, workings = self._railway.plant.roads, self._railway.workings.values()
        start, end = roads[move.from_road].station, roads[move.to_road].station
        for working in workings if move.working is None else ():
            stations = [call.station for call in working.calls]
            if start in stations and end in stations[stations.index(start) :]:
                return working.id
        return move.working

    def _carried(self, working: Working, vehicle: str) -> Iterator[_Stays]:
        """Where a train takes a vehicle that goes with it, all the way or as far as its move."""
        roads, move = self._railway.plant.roads, next((m for m in self._moves(working) if m.vehicle == vehicle), None)
        stations = [call.station for call in working.calls]
        first, last = 0, len(stations) - 1
        if move is not None:
            start, end = roads[move.from_road].station, roads[move.to_road].station
            first = stations.index(start) if start in stations else last
            last = next((n for n in range(first, last + 1) if stations[n] == end), first)
        for here, then in pairwise(working.calls[first : last + 1]):
            yield _Stays(here.depart_s or 0.0, self._section(here.station, then.station))
            is_there = move is not None and then is working.calls[last]
            yield _Stays(then.arrive_s or 0.0, move.to_road if move is not None and is_there else then.road)
        if move is not None and first == last:
            yield _Stays(working.calls[first].arrive_s or -inf, move.to_road)

    def _section(self, one: str, other: str) -> str:
        for section in self._railway.plant.sections.values():
            if {section.from_throat.partition(".")[0], section.to_throat.partition(".")[0]} == {one, other}:
                return section.id
        raise LookupError(f"no section joins {one} and {other}")
