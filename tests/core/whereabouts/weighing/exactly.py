"""The exact answer by brute force: every chain of explanations kept, nothing merged, taken apart or let go.

Rule: of the engine nothing is used but its explanations and one plain arrangement for each chain.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis

from .yards import Explain


class Everything(Branches):
    """All that may follow, however unlikely."""

    def worth(self, weight: float) -> bool:
        return True

    def add(self, hypothesis: Hypothesis) -> None:
        self.rows.append(hypothesis)


class TooManyError(Exception):
    """More chains than a test has time for."""


def chains(explanations: Sequence[Explain], most: int = 12_000) -> list[tuple[float, Arrangement]]:
    """Every way in which everything can have come about, each with its probability; `TooManyError` for more than `most`."""
    rows = [Hypothesis(Arrangement(Ground()))]
    for explained in explanations:
        branches = Everything()
        for row in rows:
            explained(row, branches)
            if len(branches.rows) > most:
                raise TooManyError
        rows = branches.rows
    top = max(row.weight for row in rows)
    whole = sum(exp(row.weight - top) for row in rows)
    return [(exp(row.weight - top) / whole, row.stands) for row in rows]


def places(found: Sequence[tuple[float, Arrangement]], vehicle: str) -> dict[str, float]:
    """Stretch to the probability that a vehicle is there."""
    summed: dict[str, float] = {}
    for chance, stands in found:
        place = stands.place(vehicle)
        summed[place] = summed.get(place, 0.0) + chance
    return summed


def lines(found: Sequence[tuple[float, Arrangement]], stretch: str) -> dict[tuple[str, ...], float]:
    """Line to the probability that a stretch holds just it, in this order."""
    summed: dict[tuple[str, ...], float] = {}
    for chance, stands in found:
        line = stands.line(stretch)
        summed[line] = summed.get(line, 0.0) + chance
    return summed
