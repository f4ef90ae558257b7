"""A question taken apart: where what is in doubt at one place tells nothing of what is in doubt at another.

Rule: two parts are taken for independent where no vehicle may be in both and the probability of every pair of answers is the
product of theirs, but for a share that does not matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from operator import itemgetter

from bridge.core.whereabouts.weighing.arrangement import Subject, by_kind, hanging_together
from bridge.core.whereabouts.weighing.hypotheses import Hypothesis

MATTERS = 2e-3  # the probabilities of all pairs may be off by so much together


def parted(rows: list[Hypothesis]) -> list[list[Hypothesis]]:
    """The rows, all told apart by the same things, as one question or as several; none where there is one answer only, which
    is common ground then."""
    if len(rows) < 2:
        return []
    parts = _parts(rows)
    found: list[list[Hypothesis]] = []
    while len(parts) > 1:
        one, rest = _Answers(rows, parts[0]), _Answers(rows, frozenset().union(*parts[1:]))
        if _independent(one, rest):
            found.append(one.as_rows())
            rows, parts = rest.as_rows(), parts[1:]
        else:
            parts = [parts[0] | parts[1], *parts[2:]]
    found.append(rows)
    return [question for question in found if len(question) > 1]


def _parts(rows: Sequence[Hypothesis]) -> list[frozenset[Subject]]:
    """What is in doubt, in parts between which no vehicle may be on both sides."""
    found: list[tuple[set[Subject], set[str]]] = []
    for subject, vehicles in hanging_together([row.stands for row in rows]):
        near = [part for part in found if not part[1].isdisjoint(vehicles)]
        apart = [part for part in found if part[1].isdisjoint(vehicles)]
        subjects = {subject}.union(*[part[0] for part in near])
        found = [*apart, (subjects, vehicles.union(*[part[1] for part in near]))]
    if len(found) == 1:
        return [frozenset(found[0][0])]
    return sorted([frozenset(subjects) for subjects, _ in found], key=lambda part: min(map(by_kind, part)))


class _Answers:
    """What several rows have alike in one part. `of_row`: which answer each row is; `chances`: the probability of each."""

    def __init__(self, rows: Sequence[Hypothesis], part: frozenset[Subject]) -> None:
        self.rows, self._part = rows, part
        has_of = itemgetter(*part)
        found: dict[object, int] = {}
        self.of_row = [found.setdefault(has_of(row.stands.own), len(found)) for row in rows]
        self.chances = [0.0] * len(found)
        for answer, row in zip(self.of_row, rows, strict=True):
            self.chances[answer] += exp(row.weight)

    def as_rows(self) -> list[Hypothesis]:
        """Each answer as a hypothesis; held is what the row that is held has."""
        firsts: dict[int, Hypothesis] = {}
        held = 0
        for answer, row in zip(self.of_row, self.rows, strict=True):
            firsts.setdefault(answer, row)
            held = answer if row.held else held
        made = [
            Hypothesis(row.stands.only(self._part), log(self.chances[answer]), answer == held)
            for answer, row in firsts.items()
        ]
        return sorted(made, key=lambda row: -row.weight)


def _independent(one: _Answers, rest: _Answers) -> bool:
    if len(one.chances) == 1 or len(rest.chances) == 1:
        return True
    together: dict[tuple[int, int], float] = {}
    for row, a, b in zip(one.rows, one.of_row, rest.of_row, strict=True):
        together[a, b] = together.get((a, b), 0.0) + exp(row.weight)
    off = 0.0
    for a, chance in enumerate(one.chances):
        for b, other in enumerate(rest.chances):
            off += abs(together.get((a, b), 0.0) - chance * other)
    return off < MATTERS
