"""A treadle was passed: what can have passed it, where a hypothesis knows of nothing that has.

Rule: a treadle tells that something passed, seldom what and which way. A hypothesis in which something has just passed there
is borne out; in another, the outermost on either side passes, or the treadle was shaken.
"""

from __future__ import annotations

from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.occupying import Occupying
from bridge.core.whereabouts.weighing.yard import Yard

FRESH_S = 6.0  # what passed so shortly before is what the treadle tells of
SHAKEN = log(0.03)  # a treadle says something that nobody passed
NOT_A_TRAIN = log(0.05)  # a treadle tells of one axle after another, and nobody passed
OTHER_WAY = log(0.05)  # of two treadles the nearer one was passed last


class Treading:
    """One passing, explained by one hypothesis after another. `sees`: any, engine or tail; `inward`: towards the throat,
    where that is known."""

    def __init__(self, yard: Yard, prior: Prior, boundary: Boundary, t: float, *, sees: str, inward: bool | None) -> None:
        self._yard, self._prior, self._boundary, self._t = yard, prior, boundary, t
        self._sees, self._inward = sees, inward
        self._coming = Occupying(yard, prior, boundary.outer, t)

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis."""
        last = hypothesis.stands.last_at(self._boundary.id)
        fresh = last.vehicle if last is not None and self._t - last.t < FRESH_S else None
        if fresh is not None and (self._sees != "tail" or self._yard.stock[fresh].tail):
            branches.add(hypothesis)
            return
        if self._sees == "tail":
            self._tail(hypothesis, branches)
        else:
            self._first(hypothesis, branches)
        hypothesis.weight += SHAKEN
        branches.add(hypothesis)

    def _first(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """The outermost on either side has passed."""
        boundary, engine_first = self._boundary, self._sees == "engine"
        inside = hypothesis.stands.outermost(boundary.outer, boundary.end)
        if inside is not None and (not engine_first or inside in self._yard.engines):
            chance = self._yard.unread(inside, boundary.id) + self._way(inward=True)
            chance += moving.moved_by(self._yard, self._prior, hypothesis.stands, (inside,), boundary, outward=False)
            if branches.worth(hypothesis.weight + chance):
                made = hypothesis.branch(chance)
                made.stands.cross((inside,), boundary, outward=False, t=self._t)
                made.unread += self._yard.passed_unread((inside,), (boundary,))
                branches.add(made)
        out = hypothesis.branch(self._way(inward=False))
        self._coming.by(out, branches, boundary, engine_first=engine_first)

    def _tail(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """The vehicle that carries the tail has passed, and all of its train that was before it."""
        yard, boundary, stands = self._yard, self._boundary, hypothesis.stands
        for outward in (False, True):
            start, end, goal, goal_end = yard.ends(boundary, outward)
            row = stands.row(start, end)
            tail = next((n for n, vehicle in enumerate(row) if yard.stock[vehicle].tail), None)
            last = stands.outermost(goal, goal_end)
            if tail is None:
                if last is not None and yard.stock[last].tail:
                    branches.add(hypothesis.branch(0.0))  # it has passed already
                elif outward and not row:
                    self._behind_its_engine(hypothesis, branches)
                continue
            group = row[: tail + 1]
            chance = yard.all_unread(group, boundary.id) + self._way(inward=not outward)
            chance += moving.moved_by(yard, self._prior, stands, group, boundary, outward)
            chance += moving.turns_back(yard, self._prior, stands, group, boundary, outward, self._t)
            if branches.worth(hypothesis.weight + chance):
                made = hypothesis.branch(chance)
                made.stands.cross(group, boundary, outward, self._t)
                made.unread += yard.passed_unread(group, (boundary,))
                branches.add(made)

    def _behind_its_engine(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """The rest of a train, its tail last, has followed its engine off a road and through the throat: nothing else told
        of it."""
        yard, boundary, stands = self._yard, self._boundary, hypothesis.stands
        ahead = stands.found(yard.engines, (boundary.outer,))
        for mouth in yard.beyond(boundary.throat, 1 - boundary.throat_end):
            row = stands.row(mouth.outer, mouth.end)
            group = row[: next((n + 1 for n, vehicle in enumerate(row) if yard.stock[vehicle].tail), 0)]
            if not group or self._prior.leader(group[0]) not in ahead:
                continue
            chance = sum(yard.all_unread(group, step.id) for step in (mouth, boundary)) + self._way(inward=False)
            if branches.worth(hypothesis.weight + chance):
                made = hypothesis.branch(chance)
                made.stands.cross(group, mouth, False, self._t)
                made.stands.cross(group, boundary, True, self._t)
                made.unread += yard.passed_unread(group, (mouth, boundary))
                branches.add(made)

    def _way(self, *, inward: bool) -> float:
        return 0.0 if self._inward in (None, inward) else OTHER_WAY


class TrainPassed:
    """So many axles have passed a treadle that it was no shaking: where a hypothesis has nothing pass there, little speaks
    for it."""

    def __init__(self, boundary: Boundary, t: float) -> None:
        self._boundary, self._t = boundary, t

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """What a hypothesis comes to."""
        last = hypothesis.stands.last_at(self._boundary.id)
        if last is None or self._t - last.t >= FRESH_S:
            hypothesis.weight += NOT_A_TRAIN
        branches.add(hypothesis)
