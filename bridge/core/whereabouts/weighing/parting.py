"""A question taken apart: where what is in doubt at one place tells nothing of what is in doubt at another.

Rule: two parts are taken for independent where no vehicle may be in both and the probability of every pair of answers is the
product of theirs, but for a share that does not matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

from bridge.core.whereabouts.weighing.arrangement import Subject, hanging_together
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
    above: dict[Subject, Subject] = {}

    def top(subject: Subject) -> Subject:
        while (higher := above.get(subject)) is not None:
            subject = higher
        return subject

    for vehicle, other in hanging_together([row.stands for row in rows]):
        one, two = top(("vehicle", vehicle)), top(other)
        if one != two:
            above[one] = two
    found: dict[Subject, set[Subject]] = {}
    for subject in rows[0].stands.differs_in():
        found.setdefault(top(subject), set()).add(subject)
    return sorted(map(frozenset, found.values()), key=min)


class _Answers:
    """What several rows have alike in one part. `of_row`: which answer each row is; `chances`: the probability of each."""

    def __init__(self, rows: Sequence[Hypothesis], part: frozenset[Subject]) -> None:
        self.rows, self._part = rows, part
        subjects = tuple(part)
        found: dict[object, int] = {}
        self.of_row = [found.setdefault(row.stands.has_of(subjects), len(found)) for row in rows]
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
