"""Counts of what was right, and how often a certainty was justified: the figures of which every table here is made.

Rule: figures are counts that can be added, in any grouping; shares are taken at the very end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

BINS = (
    (0.999, ">= 0.999"),
    (0.99, "0.99 to 0.999"),
    (0.95, "0.95 to 0.99"),
    (0.9, "0.9 to 0.95"),
    (0.8, "0.8 to 0.9"),
    (0.5, "0.5 to 0.8"),
    (0.0, "< 0.5"),
)
"""The least certainty of each bin, and what it is called; a statement belongs to the first bin that it reaches."""


@dataclass(frozen=True, slots=True)
class Count:
    """So many `right` of so many."""

    right: int = 0
    of: int = 0

    def __add__(self, other: Count) -> Count:
        return Count(self.right + other.right, self.of + other.of)

    @property
    def share(self) -> float | None:
        """The share that is right, 0 to 1; None of nothing."""
        return self.right / self.of if self.of else None

    def __str__(self) -> str:
        return f"{self.right}/{self.of} {100.0 * self.right / self.of:.1f} %" if self.of else "-"


@dataclass(slots=True)
class Bin:
    """Statements of nearly one certainty: how many, the sum of their certainties, how many were true."""

    n: int = 0
    sure: float = 0.0
    right: int = 0


@dataclass(slots=True)
class Calibration:
    """Statements by how sure they were. `squares`: the sum of (certainty - truth) squared, truth being 1 or 0."""

    bins: list[Bin] = field(default_factory=lambda: [Bin() for _ in BINS])
    squares: float = 0.0

    def take(self, sure: float, right: bool) -> None:
        """One more statement."""
        found = self.bins[next(n for n, (least, _) in enumerate(BINS) if sure >= least or n == len(BINS) - 1)]
        found.n += 1
        found.sure += sure
        found.right += right
        self.squares += (sure - right) ** 2

    def add(self, other: Calibration) -> None:
        """All the statements of another."""
        for mine, theirs in zip(self.bins, other.bins, strict=True):
            mine.n += theirs.n
            mine.sure += theirs.sure
            mine.right += theirs.right
        self.squares += other.squares

    @property
    def n(self) -> int:
        """How many statements there are."""
        return sum(each.n for each in self.bins)

    @property
    def brier(self) -> float | None:
        """The Brier score: the mean of (certainty - truth) squared; 0 is best, None of no statements."""
        return self.squares / self.n if self.n else None

    @property
    def error(self) -> float | None:
        """The expected calibration error: over the bins, weighted by their statements, how far the mean certainty lies from
        the share that was true; None of no statements."""
        return sum(abs(each.sure - each.right) for each in self.bins) / self.n if self.n else None


Counts = dict[str, Count]


def added(many: Iterable[Mapping[str, Count]]) -> Counts:
    """The counts of each name together."""
    whole: Counts = {}
    for counts in many:
        for name, count in counts.items():
            whole[name] = whole.get(name, Count()) + count
    return whole
