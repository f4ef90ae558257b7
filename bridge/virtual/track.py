"""The plant as track that can be measured: every stretch with a length, joined end to end, and the ways along it.

Rule: vehicles pass from stretch to stretch only at a boundary, and a way never reverses inside a throat: from a road it
goes on to a section or a headshunt, and back. A throat is one line of track with all its roads at one end and all its
sections at the other. One whose length the folder does not give has `THROAT_MM`, and trains are drawn out into a section
beyond it; where none can be entered from there, it is by as much longer as its station's longest road.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import isfinite

from bridge.core.plant import Boundary, Plant

THROAT_MM = 250.0
UNMEASURED_MM = 4000.0


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch as part of a way. `ahead`: the way runs from its end 0 to its end 1. `x_mm`: where it begins on the way."""

    stretch: str
    ahead: bool
    x_mm: float
    length_mm: float

    @property
    def end_mm(self) -> float:
        """Where it ends on the way."""
        return self.x_mm + self.length_mm

    def offset_mm(self, x_mm: float) -> float:
        """A place on the way as millimetres from the stretch's end 0."""
        return x_mm - self.x_mm if self.ahead else self.end_mm - x_mm


class Track:
    """What vehicles run on."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self._length_mm = {stretch: self._measured(stretch) for stretch in plant.at_stretch}
        self._joints = self._joined()

    def _measured(self, stretch: str) -> float:
        length_mm = self.plant.length_mm(stretch)
        if length_mm is None:
            return THROAT_MM + self._beyond_mm(stretch)
        return length_mm if isfinite(length_mm) else UNMEASURED_MM

    def _beyond_mm(self, throat: str) -> float:
        """How much longer a throat is because no section serves as its neck."""
        for section in self.plant.sections.values():
            for end, way in ((section.from_throat, "down"), (section.to_throat, "up")):
                if end == throat and way in section.directions:
                    return 0.0
        station = self.plant.stations[self.plant.throats[throat].station]
        lengths = (self.plant.roads[road].length_mm for road in station.roads)
        return max((mm for mm in lengths if isfinite(mm)), default=0.0)

    def _joined(self) -> dict[tuple[str, int], list[tuple[str, int, Boundary]]]:
        joints: dict[tuple[str, int], list[tuple[str, int, Boundary]]] = {}
        for boundary in self.plant.boundaries.values():
            inner = boundary.throat_end
            if self.plant.throats[boundary.throat].headshunt == boundary.outer:
                inner = 1 - inner  # a headshunt lies beyond the pointwork, where a section would leave
            joints.setdefault((boundary.outer, boundary.end), []).append((boundary.throat, inner, boundary))
            joints.setdefault((boundary.throat, inner), []).append((boundary.outer, boundary.end, boundary))
        return joints

    def length_mm(self, stretch: str) -> float:
        """The length of a stretch on the layout."""
        return self._length_mm[stretch]

    def is_dead_end(self, stretch: str, end: int) -> bool:
        """Whether a stretch ends there at a buffer stop."""
        return (stretch, end) not in self._joints

    def boundary_of(self, one: Leg, following: Leg) -> Boundary:
        """The boundary between two legs of a way."""
        for stretch, end, boundary in self._joints[one.stretch, int(one.ahead)]:
            if stretch == following.stretch and (end == 0) == following.ahead:
                return boundary
        raise LookupError(f"{one.stretch} does not join {following.stretch}")

    def boundary_at(self, stretch: str, end: int) -> Boundary | None:
        """The boundary at an end of a road or section; None at a buffer stop."""
        joints = self._joints.get((stretch, end))
        return joints[0][2] if joints and joints[0][2].outer == stretch else None

    def way_out(self, stretch: str, end: int) -> tuple[str, bool] | None:
        """The first stretch beyond an end, and whether it is entered by its end 0; None at a buffer stop."""
        joints = self._joints.get((stretch, end))
        return (joints[0][0], joints[0][1] == 0) if joints else None

    def reaches(self, one: str, other: str) -> bool:
        """Whether a road's `reaches` allows the way between a road and a section."""
        for road, section in ((one, other), (other, one)):
            known = self.plant.roads.get(road)
            if known is not None and known.reaches and section in self.plant.sections and section not in known.reaches:
                return False
        return True

    def way(self, start: str, ahead: bool, target: str) -> list[tuple[str, bool]] | None:
        """The stretches from `start`, left by its end 1 if `ahead`, to `target`, with how each is run through.

        The fewest stretches, of equal ones the first in the order of the folder; None where no way leads there without
        reversing.
        """
        first = ("", start, ahead)
        came_from: dict[tuple[str, str, bool], tuple[str, str, bool] | None] = {first: None}
        queue = deque([first])
        while queue:
            here = queue.popleft()
            before, stretch, ran_ahead = here
            if stretch == target:
                return self._traced(came_from, here)
            for onward, end, _ in self._joints.get((stretch, int(ran_ahead)), ()):
                there = (stretch, onward, end == 0)
                if there not in came_from and self.reaches(before, onward):
                    came_from[there] = here
                    queue.append(there)
        return None

    @staticmethod
    def _traced(
        came_from: dict[tuple[str, str, bool], tuple[str, str, bool] | None], last: tuple[str, str, bool]
    ) -> list[tuple[str, bool]]:
        way: list[tuple[str, bool]] = []
        at: tuple[str, str, bool] | None = last
        while at is not None:
            way.append((at[1], at[2]))
            at = came_from[at]
        return way[::-1]
