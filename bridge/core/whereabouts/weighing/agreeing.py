"""Arrangements side by side: which of them are alike, and in what all of them agree.

Rule: what all have alike becomes common ground; each then has all that is in doubt, and nothing else, of its own. What
stands where is no longer ground once it is in doubt, so that the ground need not be asked first whether it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import compress, repeat
from operator import attrgetter, not_
from typing import Any, NamedTuple

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground, Subject
from bridge.core.whereabouts.weighing.crossing import Line

_LINES, _AT, _PASSED = attrgetter("lines"), attrgetter("at"), attrgetter("passed")

_Own = Sequence[Mapping[str, Any]]
_Rows = Sequence[tuple[Any, ...]]


class Agreed(NamedTuple):
    """What of vehicles and stretches may be otherwise now, and what is in doubt."""

    vehicles: Sequence[str]
    stretches: Sequence[str]
    doubtful: Sequence[Subject]


class Beside:
    """Several arrangements on one ground, held against each other."""

    __slots__ = ("_ground", "_lines", "_passed", "_possible")

    def __init__(self, ground: Ground, possible: Sequence[Arrangement]) -> None:
        self._ground, self._possible = ground, possible
        self._lines = _beside(list(map(_LINES, possible)), ground.lines, ())
        self._passed = _beside(list(map(_PASSED, possible)), ground.passed, None)

    def keys(self) -> list[object]:
        """Of each a key, equal where everything stands alike and has passed alike."""
        mute, (subjects, passed) = self._ground.mute, self._passed
        if not mute.isdisjoint(subjects):
            telling = [subject not in mute for subject in subjects]
            passed = [tuple(compress(row, telling)) for row in passed]
        return list(zip(self._lines[1], passed, strict=True))

    def lines_of(self, stretches: frozenset[str]) -> list[tuple[Line, ...]]:
        """Of each who stands on these stretches, as far as any has them otherwise than the ground."""
        subjects, lines = self._lines
        asked = [subject in stretches for subject in subjects]
        return [tuple(compress(row, asked)) for row in lines]

    def agree(self, kept: Sequence[int]) -> Agreed:
        """Whatever those that are kept (their numbers) agree on becomes common ground; what only some have noted is
        completed in the others."""
        ground, rows = self._ground, [self._possible[number] for number in kept]
        if len(rows) == 1:
            return _alone(ground, rows[0])
        (stretches, lines), (boundaries, passed) = self._lines, self._passed
        places = list(map(_AT, rows))
        vehicles, at = _beside(places, ground.at, OFF)
        in_lines, own_lines = _agree(list(map(_LINES, rows)), stretches, [lines[n] for n in kept], ground.lines)
        in_at, own_at = _agree(places, vehicles, at, ground.at)
        in_passed, own_passed = _agree(list(map(_PASSED, rows)), boundaries, [passed[n] for n in kept], ground.passed)
        for each, own_line, own_place, own_last in zip(rows, own_lines, own_at, own_passed, strict=True):
            each.lines, each.at, each.passed = own_line, own_place, own_last
        for stretch in in_lines:
            ground.lines.pop(stretch, None)
        for vehicle in in_at:
            ground.at.pop(vehicle, None)
        doubtful = [*zip(repeat("stretch"), in_lines), *zip(repeat("vehicle"), in_at)]
        return Agreed(vehicles, stretches, [*doubtful, *zip(repeat("boundary"), in_passed)])


def _alone(ground: Ground, stands: Arrangement) -> Agreed:
    """The only one is right in everything."""
    agreed = Agreed(tuple(stands.at), tuple(stands.lines), ())
    ground.lines.update(stands.lines)
    ground.at.update(stands.at)
    ground.passed.update(stands.passed)
    stands.lines, stands.at, stands.passed = {}, {}, {}
    return agreed


def _beside(own: _Own, common: Mapping[str, Any], otherwise: Any) -> tuple[tuple[str, ...], _Rows]:
    """What any of them has of its own, and what each has of that, be it the common one."""
    every: dict[str, Any] = {}
    for each in own:
        every |= each
    subjects = tuple(every)
    if not subjects:
        return (), [()] * len(own)
    ground = list(map(common.get, subjects, repeat(otherwise)))
    return subjects, [tuple(map(each.get, subjects, ground)) for each in own]


def _agree(own: _Own, subjects: Sequence[str], rows: _Rows, common: dict[str, Any]) -> tuple[Sequence[str], Sequence[Any]]:
    """What is in doubt of some subjects, of which each has its row; what each has of its own from now on."""
    if not subjects:
        return subjects, own
    several = len(rows)
    in_doubt = [column.count(column[0]) != several for column in zip(*rows, strict=True)]
    if True not in in_doubt:
        common.update(zip(subjects, rows[0], strict=True))
        return (), [{}] * several
    doubtful, found = subjects, own
    if False in in_doubt:
        certain = list(map(not_, in_doubt))
        common.update(zip(compress(subjects, certain), compress(rows[0], certain), strict=True))
        doubtful = tuple(compress(subjects, in_doubt))
        found = _by_subject(doubtful, map(compress, rows, repeat(in_doubt)))
    elif sum(map(len, own)) < len(subjects) * several:
        found = _by_subject(subjects, rows)
    return doubtful, found


def _by_subject(subjects: Sequence[str], rows: Iterable[Iterable[Any]]) -> list[dict[str, Any]]:
    """Each row, by the subjects that it is about."""
    return list(map(dict, map(zip, repeat(subjects), rows)))
