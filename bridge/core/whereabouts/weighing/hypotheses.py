"""Hypotheses and their weights: what may be so, how likely each is, and what all of them together say of one vehicle.

Rule: weights are logarithms of probabilities that sum to one. Two hypotheses in which everything is alike are one; those
that are hopelessly unlikely, or too many, are let go, and nothing else is ever dropped. One is *held*: what the rest of the
core is shown; another takes its place only where it is clearly likelier.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, log, log1p

from bridge.core.whereabouts.lines import OFF
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground, agree

HOPELESS = 9.0  # less likely than the best by a factor e to this: about one in eight thousand
MOST = 24  # so many hypotheses are weighed at a time
CLEARLY = log(2.0)  # so much likelier than the one that is held another has to be, to be held instead


@dataclass(frozen=True, slots=True)
class Passed:
    """The last vehicle at a boundary, which way it goes (outward: from the throat), and when."""

    vehicle: str
    outward: bool
    t: float


@dataclass(frozen=True, slots=True)
class Unread:
    """A vehicle that is taken to have passed a boundary with a reader there, and was not read."""

    vehicle: str
    boundary: str


class Hypothesis:
    """One way in which everything may stand. `unread`: what it takes to have passed unread in the evidence just weighed."""

    __slots__ = ("held", "passed", "stands", "unread", "weight")

    def __init__(self, stands: Arrangement) -> None:
        self.stands = stands
        self.weight = 0.0
        self.passed: dict[str, Passed] = {}
        self.unread: tuple[Unread, ...] = ()
        self.held = True

    def branch(self, chance: float) -> Hypothesis:
        """What may follow from it, with the logarithm of a chance."""
        twin = Hypothesis.__new__(Hypothesis)
        twin.stands, twin.passed = self.stands.copy(), self.passed.copy()
        twin.weight, twin.unread, twin.held = self.weight + chance, self.unread, self.held
        return twin

    def key(self) -> tuple[frozenset[tuple[str, tuple[str, ...]]], frozenset[tuple[str, Passed]]]:
        """Equal for hypotheses from which the same would follow."""
        return self.stands.key(), frozenset(self.passed.items())


class Branches:
    """What may follow from all hypotheses under one piece of evidence, gathered."""

    __slots__ = ("_best", "rows")

    def __init__(self) -> None:
        self.rows: list[Hypothesis] = []
        self._best = -1e9

    def worth(self, weight: float) -> bool:
        """False where something so unlikely would be let go at once."""
        return weight > self._best - HOPELESS

    def add(self, hypothesis: Hypothesis) -> None:
        """One more."""
        if hypothesis.weight > self._best - HOPELESS:
            self.rows.append(hypothesis)
            self._best = max(self._best, hypothesis.weight)


class Hypotheses:
    """All that are weighed, the likeliest first."""

    def __init__(self) -> None:
        self._ground = Ground()
        self.rows: list[Hypothesis] = [Hypothesis(Arrangement(self._ground))]
        self.let_go = 0.0
        """The share of all probability that was let go so far."""

    @property
    def held(self) -> Hypothesis:
        """The one that the rest of the core is shown."""
        return next(row for row in self.rows if row.held)

    def take(self, branches: Sequence[Hypothesis], recent_t: float) -> None:
        """These take the place of all before; what passed a boundary before `recent_t` is no longer remembered."""
        best = max(row.weight for row in branches)
        merged: dict[object, Hypothesis] = {}
        lost: list[float] = []
        for row in branches:
            if row.weight <= best - HOPELESS:
                lost.append(row.weight)
                continue
            for boundary in [b for b, passed in row.passed.items() if passed.t < recent_t]:
                del row.passed[boundary]
            key = row.key()
            other = merged.get(key)
            merged[key] = row if other is None else _together(other, row)
        rows = sorted(merged.values(), key=lambda row: -row.weight)
        lost += [row.weight for row in rows[MOST:]]
        self.rows = rows[:MOST]
        self._normalise(lost)
        self._hold()
        agree(self._ground, [row.stands for row in self.rows])

    def _normalise(self, lost: Iterable[float]) -> None:
        top = self.rows[0].weight
        kept = sum(exp(row.weight - top) for row in self.rows)
        gone = sum(exp(weight - top) for weight in lost)
        self.let_go += (1.0 - self.let_go) * gone / (kept + gone)
        whole = top + log(kept)
        for row in self.rows:
            row.weight -= whole

    def _hold(self) -> None:
        held = next((row for row in self.rows if row.held), None)
        if held is None or held.weight < self.rows[0].weight - CLEARLY:
            held = self.rows[0]
        for row in self.rows:
            row.held = row is held

    # --- what they say together

    def chance(self, hypothesis: Hypothesis) -> float:
        """The probability of one of them."""
        return exp(hypothesis.weight)

    def places(self, vehicle: str) -> dict[str, float]:
        """Stretch to the probability that a vehicle is there."""
        found: dict[str, float] = {}
        for row in self.rows:
            place = row.stands.place(vehicle)
            found[place] = found.get(place, 0.0) + exp(row.weight)
        return found

    def sure(self, vehicle: str, place: str = OFF) -> float:
        """The probability that a vehicle is at a place."""
        return min(1.0, sum(exp(row.weight) for row in self.rows if row.stands.place(vehicle) == place))


def _together(one: Hypothesis, other: Hypothesis) -> Hypothesis:
    more, less = (one, other) if one.weight >= other.weight else (other, one)
    more.weight += log1p(exp(less.weight - more.weight))
    more.held = one.held or other.held
    return more
