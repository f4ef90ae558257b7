"""How sure a belief is, by the way in which it was reached.

Rule: the figures are measured, never felt: the share of statements of each kind that were true in virtual sessions with 0 to
5 per cent of the reads missed (`tests/core/measure_sureness.py` prints the table anew).
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.plant import Plant


@dataclass(frozen=True, slots=True)
class Mark:
    """Why a vehicle is believed where it is: the kind of proof the contract names, and how it came about."""

    by: str
    how: str
    evidence: tuple[int, ...]


ASSUMED = Mark("assumed", "assumed", ())

READ, WATCHED, BLIND = "read", "watched", "blind"
"""What tells of a stretch: a reader at every end by which it is reached; a track detector alone; nothing."""

UNMEASURED = 0.5

TABLE: dict[tuple[str, str, str], float] = {
    # measured with seeds 101 to 108
    ("assumed", "file", "blind"): 0.975,  # 1450 of 1486
    ("assumed", "file", "read"): 1.000,  # 4676 of 4676
    ("assumed", "file", "watched"): 1.000,  # 5022 of 5022
    ("carried", "followed", "blind"): 0.522,  # 11 of 21
    ("carried", "followed", "read"): 0.490,  # 48 of 98
    ("carried", "followed", "watched"): 0.776,  # 51 of 65
    ("carried", "track", "blind"): 0.933,  # 1298 of 1391
    ("carried", "track", "read"): 0.457,  # 15 of 33
    ("carried", "track", "watched"): 0.715,  # 2069 of 2894
    ("order", "missed", "blind"): 0.687,  # 212 of 308
    ("order", "missed", "read"): 0.440,  # 372 of 845
    ("order", "missed", "watched"): 0.637,  # 703 of 1103
    ("order", "track", "blind"): 0.835,  # 1336 of 1599
    ("order", "track", "read"): 0.991,  # 918 of 925
    ("order", "track", "watched"): 0.871,  # 18946 of 21752
    ("order", "treadle", "blind"): 0.933,  # 41 of 43
    ("order", "treadle", "read"): 0.976,  # 39 of 39
    ("order", "treadle", "watched"): 0.906,  # 230 of 253
    ("seen", "seen", "blind"): 0.959,  # 2389 of 2489
    ("seen", "seen", "read"): 0.995,  # 20328 of 20430
    ("seen", "seen", "watched"): 0.970,  # 11903 of 12267
    ("seen", "treadle", "blind"): 0.909,  # 9 of 9
    ("seen", "treadle", "read"): 0.222,  # 1 of 7
    ("seen", "treadle", "watched"): 0.458,  # 10 of 22
    ("assumed", "assumed", "blind"): 0.5,  # never set down: nothing is known
    ("told", "told", "read"): 1.0,  # an operator has looked: that stands until something else is seen
    ("told", "told", "watched"): 1.0,
    ("told", "told", "blind"): 1.0,
}


def ground(plant: Plant, stretch: str) -> str:
    """What tells of a stretch."""
    ends = [b for b in plant.at_stretch.get(stretch, ()) if b.outer == stretch]
    if ends and all(plant.read_at(b.id) for b in ends):
        return READ
    return WATCHED if stretch in plant.covering else BLIND


def sureness(mark: Mark, told: str) -> float:
    """The measured probability that a belief of this kind, about a stretch of which `told` tells, is true."""
    return TABLE.get((mark.by, mark.how, told), UNMEASURED)
