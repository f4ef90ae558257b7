"""A question taken apart: where what is in doubt at one place tells nothing of what is in doubt at another.

Rule: two parts are taken for independent where no vehicle may be in both and the probability of every pair of answers is the
product of theirs, but for a share that does not matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

from bridge.core.whereabouts.weighing.arrangement import Subject
from bridge.core.whereabouts.weighing.hypotheses import Hypothesis

MATTERS = 2e-3  # the probabilities of all pairs may be off by so much together


def parted(rows: list[Hypothesis]) -> list[list[Hypothesis]]:
    """The rows as one question, or as several; none where there is one answer only, which is common ground then."""
    if len(rows) < 2:
        return []
    parts = _parts(rows)
    found: list[list[Hypothesis]] = []
    while len(parts) > 1:
        one = _answers(rows, parts[0])
        rest = _answers(rows, frozenset().union(*parts[1:]))
        if _independent(rows, parts[0], one, rest):
            found.append(_as_rows(one))
            rows, parts = _as_rows(rest), parts[1:]
        else:
            parts = [parts[0] | parts[1], *parts[2:]]
    found.append(rows)
    return [question for question in found if len(question) > 1]


def _parts(rows: Sequence[Hypothesis]) -> list[frozenset[Subject]]:
    """What is in doubt, in parts between which no vehicle may be on both sides."""
    joins: set[tuple[Subject, Subject]] = set()
    for row in rows:
        joins |= row.stands.joins()
    part_of: dict[Subject, set[Subject]] = {subject: {subject} for row in rows for subject in row.stands.differs_in()}
    for one, other in joins:
        if one not in part_of or other not in part_of:
            part_of.setdefault(one, {one})
            part_of.setdefault(other, {other})
        more, less = part_of[one], part_of[other]
        if more is not less:
            if len(more) < len(less):
                more, less = less, more
            more |= less
            for subject in less:
                part_of[subject] = more
    return sorted(map(frozenset, {id(part): part for part in part_of.values()}.values()), key=min)


class _Answer:
    """What several rows have alike in one part."""

    def __init__(self, row: Hypothesis, part: frozenset[Subject]) -> None:
        self.row = Hypothesis(row.stands.only(part), row.weight, row.held)
        self.chance = exp(row.weight)

    def take_in(self, row: Hypothesis) -> None:
        self.chance += exp(row.weight)
        self.row.held = self.row.held or row.held


Answers = dict[object, _Answer]


def _answers(rows: Sequence[Hypothesis], part: frozenset[Subject]) -> Answers:
    found: Answers = {}
    for row in rows:
        key = row.stands.only(part).key()
        if key in found:
            found[key].take_in(row)
        else:
            found[key] = _Answer(row, part)
    return found


def _independent(rows: Sequence[Hypothesis], part: frozenset[Subject], one: Answers, rest: Answers) -> bool:
    if len(one) == 1 or len(rest) == 1:
        return True
    together: dict[tuple[object, object], float] = {}
    others = frozenset(subject for row in rows for subject in row.stands.differs_in()) - part
    for row in rows:
        pair = (row.stands.only(part).key(), row.stands.only(others).key())
        together[pair] = together.get(pair, 0.0) + exp(row.weight)
    off = 0.0
    for a, answer in one.items():
        for b, other in rest.items():
            off += abs(together.get((a, b), 0.0) - answer.chance * other.chance)
    return off < MATTERS


def _as_rows(answers: Answers) -> list[Hypothesis]:
    rows = []
    for answer in answers.values():
        answer.row.weight = log(answer.chance)
        rows.append(answer.row)
    rows.sort(key=lambda row: -row.weight)
    held = next((row for row in rows if row.held), rows[0])
    for row in rows:
        row.held = row is held
    return rows
