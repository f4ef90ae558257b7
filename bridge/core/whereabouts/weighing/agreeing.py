"""Arrangements side by side: which of them are alike, and in what all of them agree.

Rule: what all have alike becomes common ground; each then has all that is in doubt, and nothing else, of its own. What
stands where is no longer ground once it is in doubt, so that the ground need not be asked first whether it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from operator import itemgetter
from typing import Any, NamedTuple

from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground, Subject
from bridge.core.whereabouts.weighing.crossing import BOUNDARY, VEHICLE, Line

_Row = tuple[Any, ...]


class Agreed(NamedTuple):
    """What of vehicles and stretches may be otherwise now, and what is in doubt."""

    vehicles: Sequence[str]
    stretches: Sequence[str]
    doubtful: Sequence[Subject]


class Beside:
    """Several arrangements on one ground, held against each other. What passed a boundary before `recent_t` need not be told
    apart any more: there each has what the ground has."""

    __slots__ = ("_ground", "_possible", "_rows", "_stretches", "_subjects", "_telling", "_vehicles")

    def __init__(self, ground: Ground, possible: Sequence[Arrangement], recent_t: float = -1e9) -> None:
        self._ground, self._possible = ground, possible
        common = ground.have(_every(possible))
        self._subjects = tuple(common)
        self._rows: list[_Row] = [tuple((common | each.own).values()) for each in possible]
        self._vehicles, self._stretches = list[Subject](), list[Subject]()
        self._telling, boundaries = list[int](), list[int]()
        for number, subject in enumerate(common):
            if subject[0] == VEHICLE:
                self._vehicles.append(subject)
            elif BOUNDARY in subject:
                boundaries.append(number)
            else:
                self._stretches.append(subject)
                self._telling.append(number)  # where vehicles are follows from who stands on each stretch
        self._telling += [number for number in boundaries if self._subjects[number] not in ground.mute]
        self._forget(boundaries, recent_t)

    def _forget(self, boundaries: Sequence[int], recent_t: float) -> None:
        """Let each have what the ground has of a boundary, where what it has is long ago."""
        rows, old = self._rows, dict[int, Any]()
        for number in boundaries:
            for row in rows:
                last = row[number]
                if last is not None and last.t < recent_t:
                    old[number] = self._ground.has.get(self._subjects[number])
                    break
        for number, common in old.items():
            for at, row in enumerate(rows):
                last = row[number]
                if last is not None and last.t < recent_t:
                    rows[at] = (*row[:number], common, *row[number + 1 :])

    def keys(self) -> Sequence[object]:
        """Of each a key, equal where everything stands alike and has passed alike."""
        return list(map(itemgetter(*self._telling), self._rows)) if self._telling else [()] * len(self._rows)

    def lines_of(self, stretches: frozenset[str]) -> Sequence[tuple[Line, ...]]:
        """Of each who stands on these stretches, as far as any has them otherwise than the ground."""
        asked = [number for number, subject in enumerate(self._subjects) if subject in stretches]
        return [tuple([row[number] for number in asked]) for row in self._rows]

    def agree(self, kept: Sequence[int]) -> Agreed:
        """Whatever those that are kept (their numbers) agree on becomes common ground; what only some have noted is
        completed in the others."""
        has, possible = self._ground.has, [self._possible[number] for number in kept]
        vehicles = self._vehicles
        if len(possible) < len(self._possible):
            concerned = _every(possible)
            vehicles = [subject for subject in vehicles if subject in concerned]
        doubtful = self._in_doubt([self._rows[number] for number in kept], possible)
        for subject in doubtful:
            if BOUNDARY not in subject:
                has.pop(subject, None)
        return Agreed([subject[len(VEHICLE) :] for subject in vehicles], self._stretches, doubtful)

    def _in_doubt(self, rows: Sequence[_Row], possible: Sequence[Arrangement]) -> Sequence[Subject]:
        """What these differ in, which each has of its own from now on; all else is ground."""
        has, first, several, doubtful = self._ground.has, rows[0], len(rows), list[int]()
        for number, column in enumerate(zip(*rows, strict=True)):
            if column.count(first[number]) != several:
                doubtful.append(number)
            else:
                has[self._subjects[number]] = first[number]
        if len(doubtful) < 2:
            for each, row in zip(possible, rows, strict=True):
                each.own = {self._subjects[number]: row[number] for number in doubtful}
            return [self._subjects[number] for number in doubtful]
        of = itemgetter(*doubtful)
        subjects: tuple[Subject, ...] = of(self._subjects)
        for each, row in zip(possible, rows, strict=True):
            each.own = dict(zip(subjects, of(row), strict=True))
        return subjects


def _every(possible: Iterable[Arrangement]) -> dict[Subject, Any]:
    """What any of them has of its own."""
    every: dict[Subject, Any] = {}
    for each in possible:
        every |= each.own
    return every
