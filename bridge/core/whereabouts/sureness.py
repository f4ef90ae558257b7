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
    ("carried", "followed", "blind"): 0.600,  # 11 of 18
    ("carried", "followed", "read"): 0.217,  # 12 of 58
    ("carried", "followed", "watched"): 0.836,  # 45 of 53
    ("carried", "track", "blind"): 0.922,  # 1224 of 1326
    ("carried", "track", "read"): 0.472,  # 16 of 34
    ("carried", "track", "watched"): 0.726,  # 1898 of 2612
    ("order", "missed", "blind"): 0.729,  # 220 of 301
    ("order", "missed", "read"): 0.464,  # 380 of 819
    ("order", "missed", "watched"): 0.633,  # 662 of 1045
    ("order", "taken-back", "watched"): 0.667,  # 3 of 4
    ("order", "track", "blind"): 0.859,  # 1327 of 1544
    ("order", "track", "read"): 0.997,  # 903 of 905
    ("order", "track", "watched"): 0.877,  # 18613 of 21231
    ("order", "treadle", "blind"): 0.917,  # 32 of 34
    ("order", "treadle", "read"): 0.976,  # 39 of 39
    ("order", "treadle", "watched"): 0.959,  # 209 of 217
    ("seen", "seen", "blind"): 0.965,  # 2441 of 2529
    ("seen", "seen", "read"): 0.995,  # 20465 of 20569
    ("seen", "seen", "watched"): 0.972,  # 12162 of 12515
    ("seen", "treadle", "blind"): 0.917,  # 10 of 10
    ("seen", "treadle", "read"): 0.400,  # 1 of 3
    ("seen", "treadle", "watched"): 0.524,  # 10 of 19
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
