"""Who stands where and in what order, as one possibility among several has it.

Rule: what all possibilities agree on is kept once, as the *common ground*; an arrangement holds what differs from it, so a
copy costs what is in doubt, not what there is. Vehicles stand in order on a stretch and come and go at its ends alone.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.plant import Boundary
from bridge.core.whereabouts.lines import OFF

Line = tuple[str, ...]


class Ground:
    """What all possibilities agree on: stretch to its line from end 0, vehicle to its stretch."""

    def __init__(self) -> None:
        self.lines: dict[str, Line] = {}
        self.at: dict[str, str] = {}


class Arrangement:
    """Every vehicle's place and order, as differences from a common ground."""

    __slots__ = ("_at", "_ground", "_lines")

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._lines: dict[str, Line] = {}
        self._at: dict[str, str] = {}

    def copy(self) -> Arrangement:
        """Another that stands the same for now."""
        twin = Arrangement.__new__(Arrangement)
        twin._ground, twin._lines, twin._at = self._ground, self._lines.copy(), self._at.copy()
        return twin

    def key(self) -> frozenset[tuple[str, Line]]:
        """Equal for arrangements on one ground in which everything stands alike."""
        return frozenset(self._lines.items())

    # --- reading it

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch, from its end 0."""
        own = self._lines.get(stretch)
        return self._ground.lines.get(stretch, ()) if own is None else own

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        own = self._at.get(vehicle)
        return self._ground.at.get(vehicle, OFF) if own is None else own

    def outermost(self, stretch: str, end: int) -> str | None:
        """The vehicle nearest one end of a stretch."""
        row = self.line(stretch)
        return (row[0] if end == 0 else row[-1]) if row else None

    def ahead(self, vehicle: str, end: int) -> Line:
        """The vehicles between this one and an end of its stretch, the outermost first."""
        row = self.line(self.place(vehicle))
        index = row.index(vehicle)
        return row[:index] if end == 0 else row[:index:-1]

    def behind(self, vehicle: str, end: int) -> Line:
        """The vehicles that stand further from an end of its stretch than this one, the nearest first."""
        row = self.line(self.place(vehicle))
        index = row.index(vehicle)
        return row[index + 1 :] if end == 0 else row[:index][::-1]

    # --- changing it

    def put(self, vehicle: str, stretch: str, end: int) -> None:
        """Take a vehicle from where it is and set it down as the outermost at one end of a stretch."""
        self._take(vehicle)
        self._goes(vehicle, stretch)
        if stretch != OFF:
            row = self.line(stretch)
            self._stands(stretch, (vehicle, *row) if end == 0 else (*row, vehicle))

    def insert(self, vehicle: str, stretch: str, index: int) -> None:
        """Take a vehicle from where it is and set it down at an index from end 0."""
        self._take(vehicle)
        self._goes(vehicle, stretch)
        row = self.line(stretch)
        self._stands(stretch, (*row[:index], vehicle, *row[index:]))

    def cross(self, vehicles: Iterable[str], boundary: Boundary, outward: bool) -> None:
        """Take vehicles over a boundary, the first of them first; `outward`: from the throat."""
        goal, end = (boundary.outer, boundary.end) if outward else (boundary.throat, boundary.throat_end)
        for vehicle in vehicles:
            self.put(vehicle, goal, end)

    def _take(self, vehicle: str) -> None:
        stretch = self.place(vehicle)
        if stretch != OFF:
            row = self.line(stretch)
            index = row.index(vehicle)
            self._stands(stretch, row[:index] + row[index + 1 :])

    def _goes(self, vehicle: str, stretch: str) -> None:
        if self._ground.at.get(vehicle, OFF) == stretch:
            self._at.pop(vehicle, None)
        else:
            self._at[vehicle] = stretch

    def _stands(self, stretch: str, line: Line) -> None:
        if self._ground.lines.get(stretch, ()) == line:
            self._lines.pop(stretch, None)
        else:
            self._lines[stretch] = line


def agree(ground: Ground, possible: list[Arrangement]) -> None:
    """Whatever all of these agree on becomes common ground."""
    first, others = possible[0], possible[1:]
    for stretch, line in list(first._lines.items()):
        if all(other._lines.get(stretch) == line for other in others):
            ground.lines[stretch] = line
            for each in possible:
                del each._lines[stretch]
    for vehicle, stretch in list(first._at.items()):
        if all(other._at.get(vehicle) == stretch for other in others):
            ground.at[vehicle] = stretch
            for each in possible:
                del each._at[vehicle]
