"""Who stands where and in what order, as one possibility among several has it.

Rule: what is certain is kept once, as the *common ground*; an arrangement holds what differs from it, so a copy costs what
is in doubt, not what there is. Whoever asks the ground for what is in doubt elsewhere is told so (`InDoubtError`), never
something stale. Vehicles stand in order on a stretch and come and go at its ends alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import repeat
from typing import Any

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.crossing import Crossed, Line, Passed, over

Subject = tuple[str, str]


class InDoubtError(Exception):
    """Something is asked of the ground that an open question is about."""

    def __init__(self, kind: str, subject: str) -> None:
        super().__init__(f"{kind} {subject}")
        self.subject: Subject = (kind, subject)


class Ground:
    """What is certain: stretch to its line from end 0, vehicle to its stretch, boundary to what passed it last. `mute`: the
    boundaries at which nothing tells of a passage; what passed one of them last is not kept, as no evidence asks for it."""

    def __init__(self, mute: frozenset[str] = frozenset()) -> None:
        self.mute = mute
        self.lines: dict[str, Line] = {}
        self.at: dict[str, str] = {}
        self.passed: dict[str, Passed | None] = {}
        self.in_doubt: dict[Subject, Any] = {}
        """("stretch", id), ("vehicle", id) or ("boundary", id) to the open question about it. It is looked up right where it
        is needed, without a call between: nothing is asked for more often."""


class Arrangement:
    """Every vehicle's place and order, as differences from a common ground."""

    __slots__ = ("_at", "_ground", "_lines", "_passed")

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._lines: dict[str, Line] = {}
        self._at: dict[str, str] = {}
        self._passed: dict[str, Passed | None] = {}

    def copy(self) -> Arrangement:
        """Another that stands the same for now."""
        twin = Arrangement.__new__(Arrangement)
        twin._ground, twin._lines, twin._at = self._ground, self._lines.copy(), self._at.copy()
        twin._passed = self._passed.copy()
        return twin

    # --- reading it

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch, from its end 0."""
        own = self._lines.get(stretch)
        if own is not None:
            return own
        ground = self._ground
        if ("stretch", stretch) in ground.in_doubt:
            raise InDoubtError("stretch", stretch)
        return ground.lines.get(stretch, ())

    def row(self, stretch: str, end: int) -> Line:
        """The vehicles on a stretch, the outermost at one of its ends first."""
        return self.line(stretch) if end == 0 else self.line(stretch)[::-1]

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        own = self._at.get(vehicle)
        if own is not None:
            return own
        ground = self._ground
        if ("vehicle", vehicle) in ground.in_doubt:
            raise InDoubtError("vehicle", vehicle)
        return ground.at.get(vehicle, OFF)

    def last_at(self, boundary: str) -> Passed | None:
        """The last vehicle at a boundary."""
        if boundary in self._passed:
            return self._passed[boundary]
        ground = self._ground
        if ("boundary", boundary) in ground.in_doubt:
            raise InDoubtError("boundary", boundary)
        return ground.passed.get(boundary)

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
        if stretch != OFF:
            row = self.line(stretch)
            self._lines[stretch] = (vehicle, *row) if end == 0 else (*row, vehicle)
        self._at[vehicle] = stretch

    def insert(self, vehicle: str, stretch: str, index: int) -> None:
        """Take a vehicle from where it is and set it down at an index from end 0."""
        self._take(vehicle)
        row = self.line(stretch)
        self._lines[stretch] = (*row[:index], vehicle, *row[index:])
        self._at[vehicle] = stretch

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
            self._lines[start], self._lines[goal] = over(row, start_end, self.line(goal), end, group)
            self._at.update(dict.fromkeys(group, goal))
        else:
            for each in group:
                self.put(each, goal, end)
        self.note(group[-1], boundary, outward, t)

    def stand(self, crossed: Crossed) -> None:
        """Let those who have crossed stand as was found for lines like these."""
        self._lines.update(crossed.lines)
        self._at.update(crossed.at)
        self._passed[crossed.boundary] = crossed.passed

    def note(self, vehicle: str, boundary: Boundary, outward: bool, t: float, touched: bool = False) -> None:
        """A vehicle was the last at a boundary."""
        if boundary.id not in self._passed and ("boundary", boundary.id) in self._ground.in_doubt:
            raise InDoubtError("boundary", boundary.id)
        self._passed[boundary.id] = Passed(vehicle, outward, t, touched)

    def forget(self, before_t: float) -> None:
        """What passed a boundary so long ago need not be told apart any more."""
        own = self._passed
        if own:
            for boundary in [b for b, passed in own.items() if passed is not None and passed.t < before_t]:
                del own[boundary]

    def _take(self, vehicle: str) -> None:
        stretch = self.place(vehicle)
        if stretch != OFF:
            row = self.line(stretch)
            index = row.index(vehicle)
            self._lines[stretch] = row[:index] + row[index + 1 :]

    # --- what is in doubt

    def differs_in(self) -> Iterator[Subject]:
        """What it has otherwise than the ground, as in `Ground.in_doubt`."""
        for kind, own in (("stretch", self._lines), ("vehicle", self._at), ("boundary", self._passed)):
            for subject in own:
                yield kind, subject

    def has_of(self, subjects: Iterable[Subject]) -> tuple[Any, ...]:
        """What it has otherwise than the ground, of each of these; None where it has nothing."""
        kinds: dict[str, dict[str, Any]] = {"stretch": self._lines, "vehicle": self._at, "boundary": self._passed}
        return tuple([kinds[kind].get(subject) for kind, subject in subjects])

    def with_(self, other: Arrangement) -> Arrangement:
        """Both together, where they differ from the ground in different things."""
        both = self.copy()
        both._lines.update(other._lines)
        both._at.update(other._at)
        both._passed.update(other._passed)
        return both

    def only(self, subjects: frozenset[Subject]) -> Arrangement:
        """What it has of these."""
        part = Arrangement(self._ground)
        part._lines = {s: line for s, line in self._lines.items() if ("stretch", s) in subjects}
        part._at = {v: s for v, s in self._at.items() if ("vehicle", v) in subjects}
        part._passed = {b: p for b, p in self._passed.items() if ("boundary", b) in subjects}
        return part


def keys(ground: Ground, possible: Sequence[Arrangement]) -> list[object]:
    """Of each arrangement a key, equal where everything stands alike and has passed alike."""
    lines = _beside([each._lines for each in possible], ground.lines, ())[1]
    mute = ground.mute
    telling = [{b: last for b, last in each._passed.items() if b not in mute} for each in possible]
    passed = _beside(telling, ground.passed, None)[1]
    return list(zip(lines, passed, strict=True))


def agree(ground: Ground, possible: Sequence[Arrangement]) -> tuple[list[Subject], list[Subject]]:
    """Whatever all of these agree on becomes common ground; what only some have noted is completed in the others. What
    became common ground, and what is still in doubt."""
    certain: list[Subject] = []
    doubtful: list[Subject] = []
    for kind, own, common, otherwise in (
        ("stretch", [each._lines for each in possible], ground.lines, ()),
        ("vehicle", [each._at for each in possible], ground.at, OFF),
        ("boundary", [each._passed for each in possible], ground.passed, None),
    ):
        agreed, open_ = _agree(own, common, otherwise)
        certain += zip(repeat(kind), agreed)
        doubtful += zip(repeat(kind), open_)
    return certain, doubtful


def hanging_together(possible: Sequence[Arrangement]) -> Iterator[tuple[str, Subject]]:
    """What hangs together in any of these: a vehicle and its stretch, or the boundary that it was the last at."""
    standing = {row for each in possible for row in each._at.items()}
    for stretch, line in {row for each in possible for row in each._lines.items()}:
        standing.update(zip(line, repeat(stretch)))
    for vehicle, stretch in standing:
        if stretch != OFF:  # what is off stands beside nothing
            yield vehicle, ("stretch", stretch)
    for boundary, passed in {row for each in possible for row in each._passed.items()}:
        if passed is not None:
            yield passed.vehicle, ("boundary", boundary)


def _beside(
    own: Sequence[Mapping[str, Any]], common: Mapping[str, Any], otherwise: Any
) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """What any of them has of its own, and what each has of that, be it the common one."""
    every: dict[str, Any] = {}
    for each in own:
        every |= each
    subjects = tuple(every)
    if not subjects:
        return (), [()] * len(own)
    ground = [common.get(subject, otherwise) for subject in subjects]
    return subjects, [tuple(map(each.get, subjects, ground)) for each in own]


def _agree(own: Sequence[dict[str, Any]], common: dict[str, Any], otherwise: Any) -> tuple[list[str], list[str]]:
    if len(own) == 1:
        common.update(own[0])
        alone = list(own[0])
        own[0].clear()
        return alone, []
    subjects, rows = _beside(own, common, otherwise)
    certain: list[str] = []
    doubtful: list[str] = []
    several = len(rows)
    if not subjects:
        return certain, doubtful
    for subject, column in zip(subjects, zip(*rows, strict=True), strict=True):
        first = column[0]
        if column.count(first) == several:
            common[subject] = first
            certain.append(subject)
        else:
            doubtful.append(subject)
    if not doubtful:
        for each in own:
            each.clear()
        return certain, doubtful
    for each, row in zip(own, rows, strict=True):
        if len(each) < len(subjects):
            each.update(zip(subjects, row, strict=True))
        for subject in certain:
            del each[subject]
    return certain, doubtful
