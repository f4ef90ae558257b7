"""Vehicles in order on every stretch, and the only ways in which they can change places.

Rule: vehicles never pass each other on a stretch; they change stretches at boundaries alone, from the end of one line to the
end of the next. Whoever is nearer to the boundary goes first.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from bridge.core.plant import Boundary, Plant
from bridge.core.whereabouts import OFF


class Lines:
    """The ordered line of vehicles on each stretch (index 0 nearest its end 0), and the stretch of each vehicle."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self.on: dict[str, list[str]] = {}
        self.at: dict[str, str] = {}

    def line(self, stretch: str) -> list[str]:
        """The vehicles on a stretch from its end 0; the list is the live one."""
        return self.on.setdefault(stretch, [])

    def put(self, vehicle: str, stretch: str, index: int | None = None) -> None:
        """Set a vehicle down on a stretch at an index from end 0 (None: at end 1)."""
        self.take(vehicle)
        self.at[vehicle] = stretch
        if stretch != OFF:
            row = self.line(stretch)
            row.insert(len(row) if index is None else max(0, min(index, len(row))), vehicle)

    def take(self, vehicle: str) -> None:
        """Lift a vehicle off its line, wherever it is."""
        stretch = self.at.pop(vehicle, OFF)
        if stretch != OFF:
            self.on[stretch].remove(vehicle)

    def put_at_end(self, vehicle: str, stretch: str, end: int) -> None:
        """Set a vehicle down as the outermost at one end of a stretch."""
        self.put(vehicle, stretch, 0 if end == 0 else None)

    def outermost(self, stretch: str, end: int) -> str | None:
        """The vehicle nearest one end of a stretch."""
        row = self.on.get(stretch)
        if not row:
            return None
        return row[0] if end == 0 else row[-1]

    def ahead(self, vehicle: str, end: int) -> list[str]:
        """The vehicles between this one and an end of its stretch, the outermost first."""
        row = self.on[self.at[vehicle]]
        index = row.index(vehicle)
        return row[:index] if end == 0 else row[:index:-1]

    def cross(self, vehicle: str, boundary: Boundary, outward: bool) -> list[str]:
        """Take a vehicle, and all before it, over a boundary; who crossed, in the order of crossing.

        `outward`: from the throat to the road or section; else from there into the throat.
        """
        start, start_end = (boundary.throat, boundary.throat_end) if outward else (boundary.outer, boundary.end)
        goal, goal_end = (boundary.outer, boundary.end) if outward else (boundary.throat, boundary.throat_end)
        if self.at.get(vehicle) != start:
            return []
        crossed = [*self.ahead(vehicle, start_end), vehicle]
        for each in crossed:
            self.put_at_end(each, goal, goal_end)
        return crossed

    def index(self, vehicle: str) -> int | None:
        """Place of a vehicle in its line, 1 nearest end 0; None off the layout."""
        stretch = self.at.get(vehicle, OFF)
        return None if stretch == OFF else self.on[stretch].index(vehicle) + 1

    def path(self, start: str, goal: str, shut: Iterable[str] = ()) -> list[Boundary]:
        """The shortest way from one stretch to another, as the boundaries passed; empty where there is none."""
        if start not in self._plant.at_stretch or goal not in self._plant.at_stretch:
            return []
        closed, back, queue = set(shut), {start: None}, deque([start])
        way: dict[str, tuple[str, Boundary]] = {}
        while queue:
            here = queue.popleft()
            if here == goal:
                break
            for boundary in self._plant.at_stretch[here]:
                there = boundary.throat if here == boundary.outer else boundary.outer
                if there not in back and there not in closed:
                    back[there] = None
                    way[there] = (here, boundary)
                    queue.append(there)
        found: list[Boundary] = []
        while goal in way:
            goal, boundary = way[goal]
            found.append(boundary)
        return found[::-1]
