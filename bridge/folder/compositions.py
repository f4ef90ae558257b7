"""Who is in each train at each of its calls, and which trains are at a station together.

Rule: only what is booked counts: a vehicle is in its train from the call at which it is lifted (a rake from the first) to
the call at which it is set out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from bridge.core.plan import Call, Railway, Working
from bridge.forecast import rows
from bridge.forecast.course import Step, course, successions, waits
from bridge.forecast.overfull import in_order
from bridge.forecast.rows import Handled


@dataclass(frozen=True, slots=True)
class Stay:
    """A working at a call, in session seconds; at its first call from when any of it came, at its last until its engine goes
    on."""

    working: str
    call: int
    vehicles: frozenset[str]
    road: str
    from_s: float
    to_s: float

    def meets(self, other: Stay) -> bool:
        """Whether two different trains are there at once; touching at an instant is none."""
        apart = self.vehicles.isdisjoint(other.vehicles)
        return apart and self.from_s < other.to_s and other.from_s < self.to_s


@dataclass(frozen=True)
class Compositions:
    """Every train of the evening as booked."""

    railway: Railway

    @cached_property
    def rows(self) -> Mapping[str, tuple[Handled, ...]]:
        """The moves of each working that has any."""
        return rows.handled(self.railway)

    @cached_property
    def course(self) -> tuple[Step, ...]:
        """The evening in its order."""
        return course(self.railway)

    def handled(self, working: Working) -> tuple[Handled, ...]:
        """The moves of a working in the order of the file."""
        return self.rows.get(working.id, ())

    def vehicles(self, working: Working, call: int) -> tuple[str, ...]:
        """Engine and vehicles of a train as it comes to a call; to the one after its last, as it is left there."""
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
        came = {standing.vehicle: (standing.place, -math.inf) for standing in self.railway.standing}
        ordered = [working for working in in_order(self.railway.workings.values()) if working.calls]
        onward_s = self._onward_s(ordered)
        for working in ordered:
            for call in working.calls:
                vehicles = self.vehicles(working, call.index)
                from_s, to_s = _came_s(call), _goes_s(call)
                if call.index == 0 and call.arrive_s is None:
                    here = (came.get(vehicle, ("", 0.0)) for vehicle in vehicles)
                    from_s = min((since_s for road, since_s in here if road == call.road), default=from_s)
                if call is working.calls[-1] and from_s is not None:
                    to_s = onward_s[working.id]
                if from_s is not None and to_s is not None:
                    stay = Stay(working.id, call.index, frozenset(vehicles), call.road, from_s, to_s)
                    found.setdefault(call.station, []).append(stay)
                if call is working.calls[-1]:
                    came.update(dict.fromkeys(vehicles, (call.road, -math.inf if from_s is None else from_s)))
            for row in self.handled(working):
                if row.set_out < len(working.calls):
                    since_s = _came_s(working.calls[row.set_out])
                    came[row.move.vehicle] = (row.move.to_road, -math.inf if since_s is None else since_s)
        return found

    def _onward_s(self, ordered: Sequence[Working]) -> dict[str, float]:
        """When the engine of each working goes on with its next, for ever where it has none."""
        found = {working.id: math.inf for working in ordered}
        for first, second in successions(ordered):
            goes_s = _goes_s(second.calls[0])
            found[first.id] = math.inf if goes_s is None else goes_s
        return found

    def met(self, working: Working, call: Call) -> list[str]:
        """The other workings that are at a station with this one, by their times or as it waits for them or they for it."""
        here = self.stays.get(call.station, [])
        own = [stay for stay in here if (stay.working, stay.call) == (working.id, call.index)]
        known = {stay.working for stay in here} if own else set()
        found = dict.fromkeys(other.working for stay in own for other in here if stay.meets(other))
        for leaving, coming in waits(self.railway):
            pair = (leaving.working, leaving.call), (coming.working, coming.call)
            for mine, theirs in (pair, pair[::-1]):
                if mine == (working.id, call.index) and theirs[0] not in known:
                    found.setdefault(theirs[0])
        return list(found)

    def booked_on(self, road: str, working: Working, call: Call) -> list[Stay]:
        """Who else is booked on a road while this working is at its call there."""
        here = self.stays.get(call.station, [])
        own = [stay for stay in here if (stay.working, stay.call) == (working.id, call.index)]
        return [other for other in here if other.road == road and any(stay.meets(other) for stay in own)]


def _came_s(call: Call) -> float | None:
    return call.depart_s if call.arrive_s is None else call.arrive_s


def _goes_s(call: Call) -> float | None:
    return call.arrive_s if call.depart_s is None else call.depart_s
