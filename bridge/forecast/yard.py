"""What stands on each road as the evening goes on, step by step, and in what order as far as the plan says it.

Rule: trains count on no road (an engine with its rake, ready at its first call, running, or where it has ended), only what
stands alone. Into a dead end vehicles are pushed in front of what stands there. A cut that goes in at one call stands in no
known order in itself, and on a road open at both ends nobody knows at which end it stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from bridge.core.plan import Railway
from bridge.forecast.course import Step
from bridge.forecast.overfull import standing_alone
from bridge.forecast.rows import Handled

AS_IT_BEGAN = -1


class Yard:
    """The roads of the railway by now. Steps are taken in their order."""

    def __init__(self, railway: Railway, rows: Mapping[str, Iterable[Handled]]) -> None:
        self._railway = railway
        self._open = {road.id: road.open for road in railway.plant.roads.values()}
        self._stands = {road: list(vehicles) for road, vehicles in standing_alone(railway).items()}
        self._road = {vehicle: road for road, vehicles in self._stands.items() for vehicle in vehicles}
        self._cut: dict[str, int] = {}
        self._cuts: list[Step] = []
        self._coming: dict[Step, list[Handled]] = {}
        self._going: dict[Step, list[Handled]] = {}
        for working, handled in rows.items():
            for row in handled:
                if not row.is_local:
                    self._coming.setdefault(Step(working, row.set_out, False), []).append(row)
                if row.lifted is not None or row.is_local:
                    self._going.setdefault(Step(working, row.lifted or 0, True), []).append(row)

    def lifts(self, working: str, call: int) -> list[Handled]:
        """What a working is to lift at a call, moves within the station among it."""
        return self._going.get(Step(working, call, True), [])

    def on(self, road: str) -> list[str]:
        """The vehicles that stand alone on a road, up end first as far as their order is known."""
        return self._stands.get(road, [])

    def stands_mm(self, road: str) -> float:
        """Their length over buffers, nothing between."""
        stock = self._railway.stock
        return math.fsum(stock[vehicle].length_mm for vehicle in self.on(road) if vehicle in stock)

    def take(self, step: Step) -> dict[str, Handled]:
        """A train has come: its set-outs are done; or it goes: its lifts are. Answers which roads have got something, and by
        which row last."""
        grown: dict[str, Handled] = {}
        if not step.leaves:
            for row in self._coming.get(step, ()):
                self._put(row, step)
                grown[row.move.to_road] = row
            return grown
        if step.call == 0:
            working = self._railway.workings[step.working]
            for vehicle in (working.engine, *working.rake):
                self._gone(vehicle)
        for row in self._going.get(step, ()):
            self._gone(row.move.vehicle)
            if row.is_local:
                self._put(row, step)
                grown[row.move.to_road] = row
        return grown

    def in_front(self, vehicle: str, step: Step) -> list[str]:
        """What must be drawn out before a vehicle can be lifted at a step, of what the working does not lift there too; by
        the easier end of its road. Empty where it is free, and where nobody can say."""
        road = self._road.get(vehicle)
        if road is None:
            return []
        mine = {row.move.vehicle for row in self.lifts(step.working, step.call)}
        line = self._stands[road]
        place = line.index(vehicle)
        if len(self._open[road]) > 1 and any(v in self._cut for v in line):
            return []
        ends = {"up": line[:place], "down": line[place + 1 :]}
        ways = [[v for v in ends[end] if v not in mine and self._is_before(v, vehicle, step)] for end in self._open[road]]
        return min(ways, key=len, default=[])

    def _is_before(self, other: str, vehicle: str, step: Step) -> bool:
        """Whether one surely stood in front of the other before the working came."""
        cut, own = self._cut.get(other, AS_IT_BEGAN), self._cut.get(vehicle, AS_IT_BEGAN)
        if cut == AS_IT_BEGAN:
            return True
        came = self._cuts[cut]
        return cut != own and (came.working, came.call) != (step.working, step.call)

    def _put(self, row: Handled, step: Step) -> None:
        vehicle, road = row.move.vehicle, row.move.to_road
        self._gone(vehicle)
        if not self._cuts or self._cuts[-1] != step:
            self._cuts.append(step)
        self._cut[vehicle] = len(self._cuts) - 1
        self._road[vehicle] = road
        line = self._stands.setdefault(road, [])
        line.insert(0 if self._open.get(road) == ("up",) else len(line), vehicle)

    def _gone(self, vehicle: str) -> None:
        road = self._road.pop(vehicle, None)
        if road is not None:
            self._stands[road].remove(vehicle)
            self._cut.pop(vehicle, None)
