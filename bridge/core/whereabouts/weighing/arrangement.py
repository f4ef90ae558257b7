"""Who stands where and in what order, as one possibility among several has it.

Rule: what is certain is kept once, as the *common ground*; an arrangement holds what differs from it, so another one costs
what is in doubt, not what there is. Whoever asks the ground for what is in doubt elsewhere is told so (`InDoubtError`),
never something stale. Vehicles stand in order on a stretch and come and go at its ends alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.crossing import BOUNDARY, VEHICLE, Going, Line, Passed

Subject = str
"""What may be in doubt: a stretch or a boundary by its id, a vehicle by its id with `VEHICLE` before it. A boundary's id has
a `BOUNDARY` in it; no other has, nor does one begin as a vehicle's does."""


NOTHING: dict[Subject, Any] = {}
"""Of its own has an arrangement that stands as the ground does; it stays empty."""


class InDoubtError(Exception):
    """Something is asked of the ground that an open question is about: `subject`."""

    def __init__(self, subject: Subject) -> None:
        super().__init__(subject)
        self.subject = subject


class Ground:
    """What is certain: `has` is stretch to its line from end 0, vehicle to its stretch, boundary to what passed it last. It
    holds no stretch and no vehicle that is in doubt; of a boundary it holds what passed there before that came into doubt.
    `in_doubt`: what is in doubt to the open question about it. `mute`: the boundaries at which nothing tells of a passage;
    what passed one of them last is not told apart, as no evidence asks for it."""

    def __init__(self, mute: frozenset[str] = frozenset()) -> None:
        self.mute = mute
        self.has: dict[Subject, Any] = {}
        self.in_doubt: dict[Subject, Any] = {}

    def have(self, subjects: Iterable[Subject]) -> dict[Subject, Any]:
        """What it has of each of these, with nobody on a stretch, past a boundary or on the layout where it has nothing."""
        has = self.has
        return {each: has[each] if each in has else _nobody(each) for each in subjects}


def by_kind(subject: Subject) -> tuple[int, str]:
    """What boundaries, stretches and vehicles are put in order by."""
    return 2 if subject[0] == VEHICLE else 0 if BOUNDARY in subject else 1, subject


def _nobody(subject: Subject) -> Any:
    return OFF if subject[0] == VEHICLE else None if BOUNDARY in subject else ()


class Arrangement:
    """Every vehicle's place and order, as differences from a common ground: `own`, as there. It is replaced, never changed:
    a copy shares it until one of the two stands otherwise. It may be looked up without a call between where that is done for
    every hypothesis; what it lacks is then asked for by `line`, `place` or `last_at`."""

    __slots__ = ("ground", "own")

    def __init__(self, ground: Ground, own: dict[Subject, Any] = NOTHING) -> None:
        self.ground, self.own = ground, own

    def copy(self) -> Arrangement:
        """Another that stands the same for now."""
        return Arrangement(self.ground, self.own)

    # --- reading it

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch, from its end 0."""
        found: Line | None = self.own.get(stretch)
        if found is None:
            found = self.ground.has.get(stretch)
            if found is None:
                if stretch in self.ground.in_doubt:
                    raise InDoubtError(stretch)
                return ()
        return found

    def row(self, stretch: str, end: int) -> Line:
        """The vehicles on a stretch, the outermost at one of its ends first."""
        return self.line(stretch) if end == 0 else self.line(stretch)[::-1]

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        subject = VEHICLE + vehicle
        found: str | None = self.own.get(subject)
        if found is None:
            found = self.ground.has.get(subject)
            if found is None:
                if subject in self.ground.in_doubt:
                    raise InDoubtError(subject)
                return OFF
        return found

    def last_at(self, boundary: str) -> Passed | None:
        """The last vehicle at a boundary."""
        if boundary not in self.own:
            if boundary in self.ground.in_doubt:
                raise InDoubtError(boundary)
            before: Passed | None = self.ground.has.get(boundary)
            return before
        last: Passed | None = self.own[boundary]
        return last

    def found(self, vehicles: frozenset[str], stretches: Iterable[str]) -> list[str]:
        """Which of some vehicles stand on some stretches, each of these from its end 0."""
        own, common = self.own, self.ground.has
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
        lines = {place: (*self.line(place), *row) for place, row in rows.items()}
        self.own = {**self.own, **lines, **{VEHICLE + vehicle: place for vehicle, place in at.items()}}

    def put(self, vehicle: str, stretch: str, end: int) -> None:
        """Take a vehicle from where it is and set it down as the outermost at one end of a stretch."""
        others = self._without(vehicle)
        if stretch != OFF:
            row = others[stretch] if stretch in others else self.line(stretch)
            others[stretch] = (vehicle, *row) if end == 0 else (*row, vehicle)
        others[VEHICLE + vehicle] = stretch
        self.own = self.own | others

    def insert(self, vehicle: str, stretch: str, index: int) -> None:
        """Take a vehicle from where it is and set it down at an index from end 0."""
        others = self._without(vehicle)
        row = others[stretch] if stretch in others else self.line(stretch)
        self.own = {**self.own, **others, stretch: (*row[:index], vehicle, *row[index:]), VEHICLE + vehicle: stretch}

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
            there, own = self.line(goal), self.own.copy()
            own[start] = row[size:] if start_end == 0 else row[:-size]
            own[goal] = group[::-1] + there if end == 0 else there + group
            for vehicle in group:
                own[VEHICLE + vehicle] = goal
        else:
            for each in group:
                self.put(each, goal, end)
            own = self.own.copy()
        if boundary.id not in own and boundary.id in self.ground.in_doubt:
            raise InDoubtError(boundary.id)
        own[boundary.id] = Passed(group[-1], outward, t)
        self.own = own

    def gone(self, going: Going, row: Line, there: Line) -> Arrangement:
        """Another in which the outermost of one line (`row`, as it stands here) have gone over to another (`there`)."""
        own = self.own | going.then
        if going.group:
            own[going.start] = row[going.left]
            own[going.goal] = going.joining + there if going.first else there + going.joining
        return Arrangement(self.ground, own)

    def note(self, vehicle: str, boundary: Boundary, outward: bool, t: float, touched: bool = False) -> None:
        """A vehicle was the last at a boundary."""
        if boundary.id not in self.own and boundary.id in self.ground.in_doubt:
            raise InDoubtError(boundary.id)
        self.own = self.own | {boundary.id: Passed(vehicle, outward, t, touched)}

    def _without(self, vehicle: str) -> dict[Subject, Any]:
        """Those who stand beside a vehicle, once it is gone."""
        stretch = self.place(vehicle)
        if stretch == OFF:
            return {}
        row = self.line(stretch)
        index = row.index(vehicle)
        return {stretch: row[:index] + row[index + 1 :]}

    # --- parts of it

    def only(self, subjects: frozenset[Subject]) -> Arrangement:
        """What it has of these."""
        return Arrangement(self.ground, {subject: its for subject, its in self.own.items() if subject in subjects})

    def with_(self, other: Arrangement) -> Arrangement:
        """Both together, where they differ from the ground in different things."""
        return Arrangement(self.ground, {**self.own, **other.own})


def hanging_together(possible: Sequence[Arrangement]) -> Iterator[tuple[Subject, set[str]]]:
    """What is in doubt between these, all of which have it, and the vehicles that it hangs together with in any of them: who
    stands on a stretch, or passed a boundary last."""
    for subject in possible[0].own:
        if subject[0] == VEHICLE:
            yield subject, {subject[len(VEHICLE) :]}
            continue
        every = {each.own[subject] for each in possible}
        if BOUNDARY in subject:
            yield subject, {last.vehicle for last in every if last is not None}
        else:
            yield subject, set().union(*every)
