"""Vehicles read one after another at one reader: whether as many stand between them as the times tell.

Rule: a train passes a reader at much the same speed, so the times between reads are as the distances between those who were
read: who has passed unread between two of them, or carries no tag, takes as long as it is. One without a tag, believed to
come next, may have passed before: of its place in a train nothing tells but the others. A train that stops or sets off
meanwhile tells little: whatever the times are, they are never more than so unlikely.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, pi, sqrt

from bridge.core.plant import Boundary
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.crossing import Line
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.questions import Explain
from bridge.core.whereabouts.weighing.yard import Yard

SPACED = 3  # reads on end whose times are held against each other
ON_END_S = 6.0  # who is read longer after another has not passed on end with it
UNEVEN = 0.15  # of a train's speed from one read to the next: so much more or less, as a share
OFF_MIDDLE = 0.1  # a tag is so far from the middle of its vehicle, or read so early or late, as a share of its length
CHANGES = 0.2  # so often a train stops, sets off or is read late meanwhile
CHANGED = 0.8  # and by how much its speed, as a logarithm, is off then
NO_LINE = log(0.15)  # of those who do not stand in one line any times are alike

Read = tuple[str, float]
"""A vehicle, and when it was read (host seconds)."""


def on_end(before: Sequence[Read], vehicle: str, t: float) -> tuple[Read, ...]:
    """The last that one reader has read on end, `SPACED` at most, with one more. What is said once more is no passing."""
    if before and not 0.0 < t - before[-1][1] < ON_END_S:
        before = ()
    if any(vehicle == read for read, _ in before):
        return tuple(before)
    return (*before[1 - SPACED :], (vehicle, t))


class Spacing:
    """What explains the last of three reads on end at one boundary, and how likely their times are then."""

    def __init__(self, yard: Yard, boundary: Boundary, reads: Sequence[Read], explain: Explain) -> None:
        self._yard, self._boundary, self._explain = yard, boundary, explain
        (self._first, first_t), (self._middle, middle_t), (self._last, last_t) = reads
        self._times = log((last_t - middle_t) / (middle_t - first_t))
        self._found: dict[tuple[Line, Line], float] = {}

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis, each as likely as the times are where all stands so."""
        found = Branches()
        self._explain(hypothesis, found)
        branches.lost += found.lost
        for each in found.rows:
            self._out_of_order(each, branches)
            each.weight += self._chance(each.stands)
            branches.add(each)

    def _out_of_order(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """Who is believed next behind the last, and carries no tag, has passed before it."""
        stands, boundary = hypothesis.stands, self._boundary
        goal = stands.place(self._last)
        if goal not in (boundary.outer, boundary.throat) or stands.outermost(goal, boundary.end_at(goal)) != self._last:
            return
        start = boundary.throat if goal == boundary.outer else boundary.outer
        behind = stands.outermost(start, boundary.end_at(start))
        if behind is None or self._yard.stock[behind].tags:
            return
        other = hypothesis.branch(c.OUT_OF_ORDER)
        other.stands.insert(behind, goal, 1 if boundary.end_at(goal) == 0 else len(stands.line(goal)) - 1)
        other.weight += self._chance(other.stands)
        branches.add(other)

    def _chance(self, stands: Arrangement) -> float:
        row = self._passed(stands)
        if row is None:
            return NO_LINE
        last, middle, first = row.index(self._last), row.index(self._middle), row.index(self._first)
        if not last < middle < first:
            return NO_LINE
        lines = row[last : middle + 1], row[middle : first + 1]
        chance = self._found.get(lines)
        if chance is None:
            chance = self._found[lines] = self._fits(*lines)
        return chance

    def _passed(self, stands: Arrangement) -> Line | None:
        """What has passed and stands there in a line, nearest the boundary first; None where the three do not."""
        boundary, place, beyond = self._boundary, stands.place(self._last), stands.place(self._first)
        if place not in (boundary.outer, boundary.throat):
            return None
        end = boundary.end_at(place)
        row = stands.row(place, end)
        if beyond != place:
            joint = next((b for b in self._yard.plant.at_stretch[place] if beyond in (b.outer, b.throat)), None)
            if joint is None or joint.end_at(place) == end:
                return None
            row += stands.row(beyond, joint.end_at(beyond))
        return row if self._middle in row else None

    def _fits(self, latter: Line, former: Line) -> float:
        """How likely the times are where the three are as far apart as they stand in these lines."""
        (near, near_off), (far, far_off) = self._apart(latter), self._apart(former)
        off, spread = self._times - log(near / far), sqrt(UNEVEN**2 + (near_off / near) ** 2 + (far_off / far) ** 2)
        return log((1 - CHANGES) * _normal(off, spread) + CHANGES * _normal(off, CHANGED))

    def _apart(self, line: Line) -> tuple[float, float]:
        """How far the first and the last of a line are apart, and by how much that may be off, in mm."""
        lengths = [self._yard.stock[vehicle].length_mm for vehicle in line]
        one, other = lengths[0], lengths[-1]
        return sum(lengths) - (one + other) / 2, OFF_MIDDLE * sqrt(one**2 + other**2)


def _normal(off: float, spread: float) -> float:
    return exp(-((off / spread) ** 2) / 2) / (spread * sqrt(2 * pi))
