"""Hypotheses: what may be so, each with its weight, and what may follow from them under a piece of evidence.

Rule: a weight is the logarithm of a probability. What is hopelessly unlikely beside the best is not even tried.
"""

from __future__ import annotations

from math import exp, log1p
from typing import NamedTuple

from bridge.core.whereabouts.weighing.arrangement import Arrangement

HOPELESS = 7.0  # less likely than the best by a factor e to this: about one in eleven hundred


class Unread(NamedTuple):
    """A vehicle that is taken to have passed a boundary with a reader there, and was not read."""

    vehicle: str
    boundary: str


class Hypothesis:
    """One way in which everything may stand. `unread`: what it takes to have passed unread in the evidence just weighed;
    `held`: the rest of the core is shown it."""

    __slots__ = ("held", "stands", "unread", "weight")

    def __init__(self, stands: Arrangement, weight: float = 0.0, held: bool = True, unread: tuple[Unread, ...] = ()) -> None:
        self.stands, self.weight, self.held, self.unread = stands, weight, held, unread

    def branch(self, chance: float, unread: tuple[Unread, ...] = ()) -> Hypothesis:
        """What may follow from it, with the logarithm of a chance, where these have passed unread too."""
        both = self.unread + unread if unread else self.unread
        return Hypothesis(self.stands.copy(), self.weight + chance, self.held, both)

    def take_in(self, other: Hypothesis) -> None:
        """Another in which everything is alike."""
        more, less = max(self.weight, other.weight), min(self.weight, other.weight)
        self.weight = more + log1p(exp(less - more))
        self.held = self.held or other.held


class Branches:
    """What may follow from all hypotheses under one piece of evidence, gathered."""

    __slots__ = ("_least", "lost", "rows")

    def __init__(self) -> None:
        self.rows: list[Hypothesis] = []
        self.lost: list[float] = []
        """The weights of what was let go."""
        self._least = -1e9
        """What is not likelier is hopeless beside the best."""

    def worth(self, weight: float) -> bool:
        """False where something so unlikely would be let go at once."""
        if weight > self._least:
            return True
        self.lost.append(weight)
        return False

    def add(self, hypothesis: Hypothesis) -> None:
        """One more."""
        weight = hypothesis.weight
        if weight > self._least:
            self.rows.append(hypothesis)
            self._least = max(self._least, weight - HOPELESS)
        else:
            self.lost.append(weight)

    def grow(self, hypothesis: Hypothesis, chance: float, unread: tuple[Unread, ...] = ()) -> Hypothesis:
        """What may follow from a hypothesis (see `Hypothesis.branch`), as one more. How all stands is left to be changed."""
        made = hypothesis.branch(chance, unread)
        self.add(made)
        return made
