"""Who is in each train at each of its calls, and which trains are at a station together.

Rule: only what is booked counts: a vehicle is in its train from the call at which it is lifted (a rake from the first) to
the call at which it is set out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from bridge.core.plan import Call, Move, Railway, Working
from bridge.forecast.overfull import assigned, in_order


@dataclass(frozen=True, slots=True)
class Handled:
    """A move of a working: the calls (from 0) at which it is lifted and set out; `lifted` is None for one of its rake."""

    move: Move
    lifted: int | None
    set_out: int


@dataclass(frozen=True, slots=True)
class Stay:
    """A working at a call, in session seconds; at its first call from when its engine came, at its last until it goes on."""

    working: str
    call: int
    engine: str
    road: str
    from_s: float
    to_s: float

    def meets(self, other: Stay) -> bool:
        """Whether two different trains are there at once; touching at an instant is none."""
        return self.engine != other.engine and self.from_s < other.to_s and other.from_s < self.to_s


@dataclass(frozen=True)
class Compositions:
    """Every train of the evening as booked."""

    railway: Railway

    @cached_property
    def _moves(self) -> dict[str, list[Move]]:
        return assigned(self.railway, self.railway.moves)

    def handled(self, working: Working) -> Iterator[Handled]:
        """The moves of a working in the order of the file."""
        roads = self.railway.plant.roads
        stations = [call.station for call in working.calls]
        for move in self._moves.get(working.id, ()):
            start, end = roads[move.from_road].station, roads[move.to_road].station
            lifted = None if move.vehicle in working.rake or start not in stations else stations.index(start)
            later = [n for n, station in enumerate(stations) if station == end and n >= (lifted or 0)]
            yield Handled(move, lifted, later[0] if later else len(stations))

    def lengths_mm(self, working: Working) -> list[float]:
        """The length of a train as it comes to each of its calls, over buffers."""
        return [self.length_mm(self.vehicles(working, call.index)) for call in working.calls]

    def vehicles(self, working: Working, call: int) -> tuple[str, ...]:
        """Engine and vehicles of a train as it comes to a call."""
        train = dict.fromkeys((working.engine, *working.rake))
        for handled in self.handled(working):
            if (handled.lifted is None or handled.lifted < call) and call <= handled.set_out:
                train.setdefault(handled.move.vehicle)
            elif handled.set_out < call:
                train.pop(handled.move.vehicle, None)
        return tuple(train)

    def length_mm(self, vehicles: Sequence[str]) -> float:
        """Vehicles over buffers, nothing between."""
        return math.fsum(self.railway.stock[v].length_mm for v in vehicles if v in self.railway.stock)

    @cached_property
    def stays(self) -> dict[str, list[Stay]]:
        """By station: who is there when. A working without a time at a call is left out there."""
        found: dict[str, list[Stay]] = {}
        ends: dict[str, float] = {}
        ordered = [working for working in in_order(self.railway.workings.values()) if working.calls]
        for number, working in enumerate(ordered):
            next_out = (_goes_s(w.calls[0]) for w in ordered[number + 1 :] if w.engine == working.engine)
            onward = next((s for s in next_out if s is not None), math.inf)
            for call in working.calls:
                from_s, to_s = _came_s(call), _goes_s(call)
                if call.index == 0 and call.arrive_s is None:
                    from_s = ends.get(working.engine, -math.inf)
                if call is working.calls[-1] and from_s is not None:
                    ends[working.engine], to_s = from_s, onward
                if from_s is not None and to_s is not None:
                    stay = Stay(working.id, call.index, working.engine, call.road, from_s, to_s)
                    found.setdefault(call.station, []).append(stay)
        return found


def _came_s(call: Call) -> float | None:
    return call.depart_s if call.arrive_s is None else call.arrive_s


def _goes_s(call: Call) -> float | None:
    return call.arrive_s if call.depart_s is None else call.depart_s
