"""What is held to be so: the one picture that the rest of the core is shown, and what of it changed.

Rule: it stands as the hypotheses that are held have it, and is only ever made to follow them. What changed is told as
crossings, boundary by boundary where a way of two leads through a throat, else in one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from bridge.core.plan import Vehicle
from bridge.core.plant import Plant
from bridge.core.whereabouts import OFF, Change, Crossing
from bridge.core.whereabouts.weighing.agreeing import Agreed
from bridge.core.whereabouts.weighing.crossing import Line
from bridge.core.whereabouts.weighing.proof import Mark, Proof
from bridge.core.whereabouts.weighing.questions import Questions
from bridge.core.whereabouts.weighing.yard import Yard


class Moved(NamedTuple):
    """A vehicle is held to be elsewhere: `steps` are the crossings by which that is told. `is_afar`: that is not beside
    where it was, so it has not just moved but was elsewhere before."""

    vehicle: str
    steps: tuple[Crossing, ...]
    is_afar: bool


class Held:
    """Every vehicle's place and order as held, why, and since when."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.plant, self.stock = plant, stock
        self.lines: dict[str, Line] = {}
        self.at: dict[str, str] = dict.fromkeys(stock, OFF)
        self.marks: dict[str, Mark] = {}
        self.changed: dict[str, float] = {}
        self.touched: dict[str, None] = {}
        self.changes: list[Change] = []

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        return self.at.get(vehicle, OFF)

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch from its end 0."""
        return self.lines.get(stretch, ())

    def index(self, vehicle: str) -> int | None:
        """Place of a vehicle in its line, 1 nearest end 0; None off the layout."""
        row = self.line(self.place(vehicle))
        return row.index(vehicle) + 1 if vehicle in row else None

    def overhang(self, vehicle: str) -> tuple[str, ...]:
        """What a vehicle fouls where its dead-end road holds more than its length: the throat at its open end."""
        road = self.plant.roads.get(self.place(vehicle))
        if road is None or len(road.open) != 1:
            return ()
        row = self.line(road.id)
        inner = row[row.index(vehicle) + 1 :] if road.open[0] == "up" else row[: row.index(vehicle)]
        taken_mm = sum(self.stock[v].length_mm for v in inner)
        if taken_mm + self.stock[vehicle].length_mm <= road.length_mm:
            return ()
        return (f"{road.station}.{road.open[0]}",)

    def follow(self, yard: Yard, questions: Questions, agreed: Agreed, proof: Proof) -> list[Moved]:
        """Stand as the hypotheses have it; who has moved by that, the foremost of each stretch first."""
        vehicles, stretches = sorted(agreed.vehicles), sorted(agreed.stretches)
        at, moved = self.at, []
        for vehicle, place in zip(vehicles, questions.places_held(vehicles), strict=True):
            start = at.get(vehicle, OFF)
            if place != start:
                moved.append((vehicle, start, place))
        ways = {(start, goal): self._way(yard, start, goal) for _, start, goal in moved}
        if len(moved) > 1:
            moved.sort(key=lambda row: (row[1], self._depth(row[0], ways[row[1], row[2]][1])))
        for stretch, line in zip(stretches, questions.lines_held(stretches), strict=True):
            old = self.lines.get(stretch, ())
            if line != old:
                self.touched.update(dict.fromkeys(old + line))
                self.lines[stretch] = line
        found = []
        for vehicle, start, goal in moved:
            way, _, is_afar = ways[start, goal]
            self.at[vehicle], self.changed[vehicle], self.marks[vehicle] = goal, proof.t, proof.mark(vehicle)
            self.touched[vehicle] = None
            by = self.marks[vehicle].by
            steps = tuple([Crossing(proof.t, proof.n, vehicle, a, b, by) for a, b in way])
            found.append(Moved(vehicle, steps, is_afar))
        self.touched.update(dict.fromkeys(vehicles))
        return found

    def _way(self, yard: Yard, start: str, goal: str) -> tuple[tuple[tuple[str, str], ...], int | None, bool]:
        """The steps by which a change of stretch is told, the end by which it is left, and whether the two lie apart."""
        way = yard.way(start, goal, "") if OFF not in (start, goal) else None
        if not way:
            return ((start, goal),), None, True
        first = way[0]
        end = first.end_at(start)
        between = first.throat if first.outer == start else first.outer
        if len(way) == 2 and between in self.plant.throats:
            return ((start, between), (between, goal)), end, False
        return ((start, goal),), end, len(way) > 1

    def _depth(self, vehicle: str, end: int | None) -> int:
        """How many stand before a vehicle at an end of its stretch."""
        row = self.line(self.place(vehicle))
        if end is None or vehicle not in row:
            return 0
        index = row.index(vehicle)
        return index if end == 0 else len(row) - 1 - index

    def drain(self) -> list[Change]:
        """The changes since last asked."""
        found, self.changes = self.changes, []
        return found
