"""How sure a belief is, by the way in which it was reached.

Rule: the figures were measured, never felt: the share of statements of each kind that were true in virtual sessions with 0
to 5 per cent of the reads missed, while this engine was in force.
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
    ("assumed", "file", "blind"): 0.976,  # 1448 of 1483
    ("assumed", "file", "read"): 1.000,  # 4684 of 4684
    ("assumed", "file", "watched"): 1.000,  # 5030 of 5030
    ("carried", "followed", "blind"): 0.619,  # 12 of 19
    ("carried", "followed", "read"): 0.360,  # 30 of 84
    ("carried", "followed", "watched"): 0.830,  # 43 of 51
    ("carried", "track", "blind"): 0.923,  # 1228 of 1329
    ("carried", "track", "read"): 0.725,  # 49 of 67
    ("carried", "track", "watched"): 0.723,  # 1902 of 2630
    ("order", "missed", "blind"): 0.758,  # 250 of 329
    ("order", "missed", "read"): 0.466,  # 424 of 910
    ("order", "missed", "watched"): 0.643,  # 704 of 1095
    ("order", "taken-back", "watched"): 0.500,  # 4 of 8
    ("order", "track", "blind"): 0.861,  # 1328 of 1542
    ("order", "track", "read"): 0.993,  # 906 of 911
    ("order", "track", "watched"): 0.875,  # 18640 of 21299
    ("order", "treadle", "blind"): 0.919,  # 33 of 35
    ("order", "treadle", "read"): 0.990,  # 99 of 99
    ("order", "treadle", "watched"): 0.970,  # 222 of 228
    ("seen", "seen", "blind"): 0.961,  # 2383 of 2479
    ("seen", "seen", "read"): 0.995,  # 20314 of 20416
    ("seen", "seen", "watched"): 0.970,  # 11936 of 12298
    ("seen", "treadle", "blind"): 0.875,  # 6 of 6
    ("seen", "treadle", "read"): 0.250,  # 0 of 2
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
