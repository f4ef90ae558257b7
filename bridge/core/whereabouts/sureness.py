"""How sure a belief is, by the way in which it was reached.

Rule: the figures are measured, never felt: the share of statements of each kind that were true in virtual sessions with 0 to
10 per cent of the reads missed (`tests/core/measure_sureness.py` prints the table anew).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mark:
    """Why a vehicle is believed where it is: the kind of proof the contract names, and how it came about."""

    by: str
    how: str
    evidence: tuple[int, ...]


ASSUMED = Mark("assumed", "assumed", ())

TABLE: dict[tuple[str, str], float] = {
    ("assumed", "file"): 0.99,
    ("assumed", "assumed"): 0.5,
    ("seen", "seen"): 0.99,
    ("seen", "treadle"): 0.98,
    ("seen", "jumped"): 0.9,
    ("order", "missed"): 0.96,
    ("order", "track"): 0.96,
    ("order", "treadle"): 0.96,
    ("order", "guess"): 0.7,
    ("carried", "track"): 0.93,
    ("carried", "followed"): 0.95,
    ("carried", "jumped"): 0.9,
    ("carried", "told"): 0.97,
    ("absence", "stayed"): 0.8,
    ("told", "told"): 1.0,
}


def sureness(mark: Mark) -> float:
    """The measured probability that such a belief is true."""
    return TABLE.get((mark.by, mark.how), 0.9)
