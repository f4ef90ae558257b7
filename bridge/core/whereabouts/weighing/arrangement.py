"""Who stands where and in what order, as one possibility among several has it.

Rule: what is certain is kept once, as the *common ground*; an arrangement holds what differs from it, so another one costs
what is in doubt, not what there is. Whoever asks the ground for what is in doubt elsewhere is told so (`InDoubtError`),
never something stale. Vehicles stand in order on a stretch and come and go at its ends alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import repeat
from typing import Any

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.crossing import Going, Line, Passed

Subject = tuple[str, str]


class InDoubtError(Exception):
    """Something is asked of the ground that an open question is about: `subject`."""

    def __init__(self, kind: str, subject: str) -> None:
        super().__init__(kind, subject)
        self.subject: Subject = (kind, subject)


class Ground:
    """What is certain: stretch to its line from end 0, vehicle to its stretch, boundary to what passed it last. It holds no
    stretch and no vehicle that is in doubt; of a boundary it holds what passed there before that came into doubt. `mute`:
    the boundaries at which nothing tells of a passage; what passed one of them last is not told apart, as no evidence asks
    for it."""

    def __init__(self, mute: frozenset[str] = frozenset()) -> None:
        self.mute = mute
        self.lines: dict[str, Line] = {}
        self.at: dict[str, str] = {}
        self.passed: dict[str, Passed | None] = {}
        self.in_doubt: dict[Subject, Any] = {}
        """("stretch", id), ("vehicle", id) or ("boundary", id) to the open question about it."""


class Arrangement:
    """Every vehicle's place and order, as differences from a common ground: `lines`, `at` and `passed` as there. These are
    replaced, never changed: a copy shares them until one of the two stands otherwise. They may be looked up without a call
    between where that is done for every hypothesis; what they lack is then asked for by `line`, `place` or `last_at`."""

    __slots__ = ("at", "ground", "lines", "passed")

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.lines: Mapping[str, Line] = {}
        self.at: Mapping[str, str] = {}
        self.passed: Mapping[str, Passed | None] = {}

    def copy(self) -> Arrangement:
        """Another that stands the same for now."""
        twin = Arrangement.__new__(Arrangement)
        twin.ground, twin.lines, twin.at, twin.passed = self.ground, self.lines, self.at, self.passed
        return twin

    # --- reading it

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch, from its end 0."""
        own = self.lines.get(stretch)
        if own is not None:
            return own
        ground = self.ground
        common = ground.lines.get(stretch)
        if common is not None:
            return common
        if ("stretch", stretch) in ground.in_doubt:
            raise InDoubtError("stretch", stretch)
        return ()

    def row(self, stretch: str, end: int) -> Line:
        """The vehicles on a stretch, the outermost at one of its ends first."""
        return self.line(stretch) if end == 0 else self.line(stretch)[::-1]

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        own = self.at.get(vehicle)
        if own is not None:
            return own
        ground = self.ground
        common = ground.at.get(vehicle)
        if common is not None:
            return common
        if ("vehicle", vehicle) in ground.in_doubt:
            raise InDoubtError("vehicle", vehicle)
        return OFF

    def last_at(self, boundary: str) -> Passed | None:
        """The last vehicle at a boundary."""
        if boundary in self.passed:
            return self.passed[boundary]
        ground = self.ground
        if ("boundary", boundary) in ground.in_doubt:
            raise InDoubtError("boundary", boundary)
        return ground.passed.get(boundary)

    def found(self, vehicles: frozenset[str], stretches: Iterable[str]) -> list[str]:
        """Which of some vehicles stand on some stretches, each of these from its end 0."""
        own, common = self.lines, self.ground.lines
        found: list[str] = []
        for stretch in stretches:
            line = own.get(stretch)
            if line is None:
                line = common.get(stretch)
                if line is None:
                    line = self.line(stretch)
            if line and not vehicles.isdisjoint(line):
                found += [vehicle for vehicle in line if vehicle in vehicles]
        return found

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

    def set_down(self, standing: Iterable[tuple[str, str]]) -> None:
        """Set vehicles down that were nowhere so far: (vehicle, place), on each place from its end 0."""
        at = dict(standing)
        rows: dict[str, list[str]] = {}
        for vehicle, place in at.items():
            if place != OFF:
                rows.setdefault(place, []).append(vehicle)
        self.at = {**self.at, **at}
        self.lines = {**self.lines, **{place: (*self.line(place), *row) for place, row in rows.items()}}

    def put(self, vehicle: str, stretch: str, end: int) -> None:
        """Take a vehicle from where it is and set it down as the outermost at one end of a stretch."""
        self._take(vehicle)
        if stretch != OFF:
            row = self.line(stretch)
            self.lines = {**self.lines, stretch: (vehicle, *row) if end == 0 else (*row, vehicle)}
        self.at = {**self.at, vehicle: stretch}

    def insert(self, vehicle: str, stretch: str, index: int) -> None:
        """Take a vehicle from where it is and set it down at an index from end 0."""
        self._take(vehicle)
        row = self.line(stretch)
        self.lines = {**self.lines, stretch: (*row[:index], vehicle, *row[index:])}
        self.at = {**self.at, vehicle: stretch}

    def cross(self, vehicles: Iterable[str], boundary: Boundary, outward: bool, t: float) -> None:
        """Take vehicles over a boundary, the first of them first; `outward`: from the throat."""
        group = tuple(vehicles)
        if not group:
            return
        if outward:
            start, start_end, goal, end = boundary.throat, boundary.throat_end, boundary.outer, boundary.end
        else:
            start, start_end, goal, end = boundary.outer, boundary.end, boundary.throat, boundary.throat_end
        row, size = self.line(start) if self.place(group[0]) == start else (), len(group)
        if (row[:size] if start_end == 0 else row[: -size - 1 : -1]) == group:
            there = self.line(goal)
            left = row[size:] if start_end == 0 else row[:-size]
            self.lines = {**self.lines, start: left, goal: group[::-1] + there if end == 0 else there + group}
            self.at = {**self.at, **dict.fromkeys(group, goal)}
        else:
            for each in group:
                self.put(each, goal, end)
        self.note(group[-1], boundary, outward, t)

    def gone(self, going: Going, row: Line, there: Line) -> Arrangement:
        """Another in which the outermost of one line (`row`, as it stands here) have gone over to another (`there`)."""
        made = Arrangement.__new__(Arrangement)
        made.ground, made.lines, made.at = self.ground, self.lines, self.at
        if going.group:
            joined = going.joining + there if going.first else there + going.joining
            made.lines = {**self.lines, going.start: row[going.left], going.goal: joined}
            made.at = {**self.at, **going.at}
        made.passed = {**self.passed, going.boundary: going.passed}
        return made

    def note(self, vehicle: str, boundary: Boundary, outward: bool, t: float, touched: bool = False) -> None:
        """A vehicle was the last at a boundary."""
        if boundary.id not in self.passed and ("boundary", boundary.id) in self.ground.in_doubt:
            raise InDoubtError("boundary", boundary.id)
        self.passed = {**self.passed, boundary.id: Passed(vehicle, outward, t, touched)}

    def forget(self, before_t: float) -> None:
        """What passed a boundary so long ago need not be told apart any more."""
        for passed in self.passed.values():
            if passed is not None and passed.t < before_t:
                own = self.passed.items()
                self.passed = {b: last for b, last in own if last is None or last.t >= before_t}
                return

    def _take(self, vehicle: str) -> None:
        stretch = self.place(vehicle)
        if stretch != OFF:
            row = self.line(stretch)
            index = row.index(vehicle)
            self.lines = {**self.lines, stretch: row[:index] + row[index + 1 :]}

    # --- what is in doubt

    def differs_in(self) -> Iterator[Subject]:
        """What it has otherwise than the ground, as in `Ground.in_doubt`."""
        for kind, own in (("stretch", self.lines), ("vehicle", self.at), ("boundary", self.passed)):
            for subject in own:
                yield kind, subject

    def has_of(self, subjects: Iterable[Subject]) -> tuple[Any, ...]:
        """What it has otherwise than the ground, of each of these; None where it has nothing."""
        kinds: dict[str, Mapping[str, Any]] = {"stretch": self.lines, "vehicle": self.at, "boundary": self.passed}
        return tuple([kinds[kind].get(subject) for kind, subject in subjects])

    def with_(self, other: Arrangement) -> Arrangement:
        """Both together, where they differ from the ground in different things."""
        both = self.copy()
        both.lines = {**self.lines, **other.lines}
        both.at = {**self.at, **other.at}
        both.passed = {**self.passed, **other.passed}
        return both

    def only(self, subjects: frozenset[Subject]) -> Arrangement:
        """What it has of these."""
        part = Arrangement(self.ground)
        part.lines = {s: line for s, line in self.lines.items() if ("stretch", s) in subjects}
        part.at = {v: s for v, s in self.at.items() if ("vehicle", v) in subjects}
        part.passed = {b: p for b, p in self.passed.items() if ("boundary", b) in subjects}
        return part


def hanging_together(possible: Sequence[Arrangement]) -> Iterator[tuple[str, Subject]]:
    """What hangs together in any of these: a vehicle and its stretch, or the boundary that it was the last at."""
    standing = {row for each in possible for row in each.at.items()}
    for stretch, line in {row for each in possible for row in each.lines.items()}:
        standing.update(zip(line, repeat(stretch)))
    for vehicle, stretch in standing:
        if stretch != OFF:  # what is off stands beside nothing
            yield vehicle, ("stretch", stretch)
    for boundary, passed in {row for each in possible for row in each.passed.items()}:
        if passed is not None:
            yield passed.vehicle, ("boundary", boundary)
