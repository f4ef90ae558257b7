"""A rake in known order goes past the reader at a station's limit: who is believed to have passed, held against rapidfuzz.

What was read is aligned with the rake's order: what is there beside it is a ghost or a repeat, what lacks went unread.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp

import pytest
from rapidfuzz.distance import Indel

from bridge.core.whereabouts.weighing.questions import Questions
from bridge.core.whereabouts.weighing.yard import Yard

from .yards import Evidence, Expecting, explain, plant, set_down, stock

LIMIT, SECTION = "ash-birch@ash", "ash-birch"
ROADS = {"ash.main": ("running", "down"), "birch.main": ("running", "up"), "birch.dock": ("siding", "up")}
RAKES = 150
FOREIGN = "x1"
DOUBTFUL = 0.75


def read_of(rake: Sequence[str], chance: random.Random) -> list[tuple[float, str]]:
    """(host seconds, vehicle): a tenth missed, a tenth repeated."""
    found, t = [], 100.0
    for vehicle in rake:
        t += chance.uniform(0.6, 1.2)
        if chance.random() < 0.9:
            found.append((t, vehicle))
            if chance.random() < 0.1:
                found.append((t + 0.3, vehicle))
    return found


def aligned(rake: Sequence[str], read: Sequence[str]) -> tuple[list[str], int]:
    """Who has passed by what was read, in the order of the rake; and how many of them went unread."""
    lacking = {op.src_pos for op in Indel.editops(rake, read) if op.tag == "delete"}
    gone = max((index + 1 for index in range(len(rake)) if index not in lacking), default=0)
    return list(rake[:gone]), sum(index < gone for index in lacking)


@dataclass(frozen=True)
class Passage:
    """One rake, what was read of it, and what is believed."""

    read: tuple[str, ...]
    unread: int
    sure: float
    line: tuple[str, ...]
    """Who is believed in the section, the first first."""
    expected: tuple[str, ...]
    foreign: str
    """Where the wagon that stands far off is believed."""


def passage(seed: int, start: str, ghost: bool) -> Passage:
    """`ghost`: while the rake passes, the tag of a wagon is told that stands at the next station."""
    chance = random.Random(f"rake {seed}")
    rake = ["e1", *(f"w{n}" for n in range(1, chance.randint(3, 9)))]
    yard = Yard(plant(ROADS, [("ash.down", "birch.up")], [LIMIT, "ash-birch@birch", "birch.dock@up"]), stock(*rake, FOREIGN))
    found = Questions()
    found.weigh(set_down([*((v, start) for v in reversed(rake)), (FOREIGN, "birch.dock")]), 0.0, part=True)
    seen = {**dict.fromkeys(rake, "ash"), FOREIGN: "birch"}
    read = read_of(rake, chance)
    if ghost and read:
        after = chance.randrange(len(read))
        read.insert(after + 1, (read[after][0] + 0.1, FOREIGN))
    for t, vehicle in read:
        found.weigh(explain(yard, Expecting(), Evidence("read", LIMIT, t, vehicle), seen), t - 20.0, part=False)
    expected, unread = aligned(rake, [vehicle for _, vehicle in read])
    question = next((q for q in found.open if SECTION in q.about), None)
    sure = 1.0 if question is None else exp(question.held.weight)
    line = found.line(SECTION)[::-1]
    return Passage(tuple(v for _, v in read), unread, sure, line, tuple(expected), found.place(FOREIGN))


@pytest.mark.parametrize("start", ["ash.down", "ash.main"])
def test_who_has_passed_is_what_the_alignment_says(start: str, figure: Callable[[str], None]) -> None:
    """And in the same order. Where the two differ, the engine does not claim to know."""
    rows = [passage(seed, start, ghost=False) for seed in range(RAKES)]
    other = [row for row in rows if row.line != row.expected]
    figure(
        f"rakes from {start} past a reader: {RAKES}, {sum(row.unread for row in rows)} vehicles between others unread; "
        f"otherwise than aligned {len(other)}, held at {max((row.sure for row in other), default=0.0):.2f} at most"
    )
    assert len(other) <= RAKES * 0.03
    assert not [row for row in other if row.sure > DOUBTFUL]


@pytest.mark.parametrize("start", ["ash.down", "ash.main"])
def test_a_ghost_of_a_wagon_at_another_station_is_none_of_the_rake(start: str) -> None:
    rows = [passage(seed, start, ghost=True) for seed in range(RAKES)]
    other = [row for row in rows if row.line != row.expected or row.foreign != "birch.dock"]
    assert len(other) <= RAKES * 0.03, other[0]
