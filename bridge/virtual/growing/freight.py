"""Freight of a grown railway: which wagons are booked where, and by which goods train.

Rule: unless something awkward is asked for, what is booked can be got at from the end at which the engine comes or after
running round, stands near the mouth of its siding, fits where it goes with all that is or comes there, and makes no train
longer than its roads.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from random import Random

from bridge.core.plan import Call, Move, Working
from bridge.core.plant import Road
from bridge.virtual.growing.booking import Diagram
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.line import OTHER, Line
from bridge.virtual.growing.stocking import GAP_MM, Stocking

LOADS = ("coal", "milk", "timber", "stone", "flour", "fish", "bricks", "empty", "hides", "beer", "wool", "iron")


@dataclass(frozen=True, slots=True)
class _Row:
    vehicle: str
    from_road: str
    to_road: str
    working: str
    lifted: int
    set_out: int


@dataclass
class Freight:
    """Books moves for one goods train after another, in the order of their departures."""

    line: Line
    diagram: Diagram
    stocking: Stocking
    growth: Growth
    awkward: frozenset[str]
    chance: Random
    rows: list[_Row] = field(default_factory=list)
    _booked: set[str] = field(default_factory=set)
    _coming_mm: dict[str, float] = field(default_factory=dict)

    def book(self, working: Working) -> None:
        """The wagons of a train's rake, then those it lifts on its way."""
        for vehicle in working.rake:
            if self.stocking.stock[vehicle].kind == "wagon":
                self._bring(working, vehicle, working.calls[0].road, 0, local=False)
        stations = [call.station for call in working.calls]
        for call in working.calls[:-1]:
            if stations.index(call.station) == call.index:
                self._lift(working, call)

    def _lift(self, working: Working, call: Call) -> None:
        for _ in range(self.chance.randint(*self.growth.lifts)):
            found = list(self._to_be_had(working, call))
            if found:
                vehicle, road = self.chance.choice(found)
                local = self.chance.random() < 0.1
                self._bring(working, vehicle, road, call.index, local=local)

    def _to_be_had(self, working: Working, call: Call) -> Iterator[tuple[str, str]]:
        """Wagons that can be lifted at a call, each with its siding."""
        buried = "buried" in self.awkward and self.chance.random() < 0.5
        for road in self.line.sidings(call.station):
            stack = self.stocking.stacks.get(road.id, [])
            nearest = [v for v in (stack if road.open == ("up",) else stack[::-1]) if v not in self._booked]
            if nearest and self._gets_at(working, call, road):
                yield (nearest[-1] if buried else nearest[0]), road.id

    def _gets_at(self, working: Working, call: Call, road: Road) -> bool:
        if "wrong-way" in self.awkward:
            return True
        later = [c for c in working.calls[call.index :] if c.station == call.station]
        return any(self._engine_end(working, c) == road.open[0] or self.diagram.has_run_round(c) for c in later)

    def _engine_end(self, working: Working, call: Call) -> str:
        """The end of its train at which the engine is as the train comes, or as it stands before it goes."""
        if call.index == 0:
            return self.line.end_towards(call.station, working.calls[1].station)
        return OTHER[self.line.end_towards(call.station, working.calls[call.index - 1].station)]

    def _bring(self, working: Working, vehicle: str, from_road: str, lifted: int, *, local: bool) -> None:
        """Book a wagon onto a siding at a later call, or at this one."""
        calls = [working.calls[lifted]] if local else list(working.calls[lifted + 1 :])
        self.chance.shuffle(calls)
        for call in calls:
            if (call.station == working.calls[lifted].station) != local:
                continue
            first = next(c for c in working.calls[lifted:] if c.station == call.station)
            sidings = [r for r in self.line.sidings(call.station) if r.id != from_road and self._gets_at(working, first, r)]
            self.chance.shuffle(sidings)
            for road in sidings:
                if self._fits(road, vehicle) and self._train_fits(working, vehicle, lifted, first.index):
                    self._enter(_Row(vehicle, from_road, road.id, working.id, lifted, first.index))
                    return

    def _fits(self, road: Road, vehicle: str) -> bool:
        coming_mm = self._coming_mm.get(road.id, 0.0) + self.stocking.stock[vehicle].length_mm + GAP_MM
        if "too-full" in self.awkward and self.chance.random() < 0.4:
            return True
        return coming_mm <= self.stocking.room_mm(road, more=1)

    def _train_fits(self, working: Working, vehicle: str, lifted: int, set_out: int) -> bool:
        if "long-train" in self.awkward:
            return True
        stock = self.stocking
        for call in working.calls[lifted : set_out + 1]:
            train = [working.engine, *(v for v in working.rake if self._is_in(working, v, call.index)), vehicle]
            mine = (row for row in self.rows if row.working == working.id and row.vehicle not in working.rake)
            train += [row.vehicle for row in mine if row.lifted <= call.index <= row.set_out]
            if stock.length_mm(tuple(dict.fromkeys(train))) + GAP_MM > self.line.roads[call.road].length_mm:
                return False
        return True

    def _is_in(self, working: Working, vehicle: str, call: int) -> bool:
        row = next((row for row in self.rows if row.vehicle == vehicle and row.working == working.id), None)
        return row is None or call <= row.set_out

    def _enter(self, row: _Row) -> None:
        self.rows.append(row)
        self._booked.add(row.vehicle)
        length_mm = self.stocking.stock[row.vehicle].length_mm
        self._coming_mm[row.to_road] = self._coming_mm.get(row.to_road, 0.0) + length_mm + GAP_MM

    def finished(self, workings: dict[str, Working]) -> tuple[Move, ...]:
        """The rows of moves.csv; a working that anybody would see is now and then left unsaid."""
        moves = []
        for n, row in enumerate(self.rows):
            unsaid = self.chance.random() < 0.15 and self._first_that_can(row, workings) == row.working
            named = None if unsaid else row.working
            moves.append(Move(n, row.vehicle, row.from_road, row.to_road, named, None, self.chance.choice(LOADS)))
        return tuple(moves)

    def _first_that_can(self, row: _Row, workings: dict[str, Working]) -> str | None:
        roads = self.line.roads
        start, end = roads[row.from_road].station, roads[row.to_road].station
        for working in workings.values():
            at = next((c.index for c in working.calls if c.station == start), None)
            if at is not None and any(c.station == end for c in working.calls[at:]):
                return working.id
        return None
