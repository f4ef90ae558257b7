"""Ten million bytes of rubbish and a million damaged lines: nothing fails, little is held, the next good line is read.

The bounds on what is wrongly accepted are derived in `test_damage.py`: nothing after a change of one byte, and at most one
in 256, with five standard deviations, where several were drawn anew. Of bytes that are lost, repeated or swapped no such
bound holds: an XOR sum does not see two equal bytes go or two change places. `torture.py` prints how often that was.
"""

from __future__ import annotations

import math

import pytest

from .torture import Figures, shown, torture_bytes, torture_lines

SEED = 20
NEVER = ("a bit turned", "a byte replaced")
BY_CHANCE = ("two bytes replaced", "eight bytes replaced")
FULL = pytest.mark.slow


def in_order(figures: Figures) -> None:
    assert figures.is_right, shown(figures)
    print(shown(figures))


@pytest.mark.parametrize("total", [1_000_000, pytest.param(10_000_000, marks=FULL)])
def test_rubbish_bytes(total: int) -> None:
    figures = torture_bytes(total, SEED)
    in_order(figures)
    assert figures.bytes == total
    assert sum(figures.rejected.values()) > total / 1000


PARTS = [pytest.param(250_000, part, marks=FULL) for part in range(4)]  # a million in all, each within the time limit


@pytest.mark.parametrize(("total", "part"), [(30_000, 4), *PARTS])
def test_damaged_lines(total: int, part: int) -> None:
    figures = torture_lines(total, SEED + part)
    in_order(figures)
    assert figures.lines == total
    assert sum(figures.rejected.values()) > total / 2
    for way in NEVER:
        assert figures.accepted[way] == 0, shown(figures)
    for way in BY_CHANCE:
        tries, share = figures.damaged[way], 1 / 256
        assert figures.accepted[way] <= tries * share + 5 * math.sqrt(tries * share * (1 - share)), shown(figures)


class Raises:
    def feed(self, _data: bytes) -> list[object]:
        raise ZeroDivisionError


class Deaf:
    def feed(self, _data: bytes) -> list[object]:
        return [None]


class Keeps(Deaf):
    kept = b""

    def feed(self, data: bytes) -> list[object]:
        self.kept += data
        return [None]


@pytest.mark.parametrize(("broken", "found"), [(Raises, "crashes"), (Deaf, "unread"), (Keeps, "held")])
def test_a_broken_parser_is_found_out(monkeypatch: pytest.MonkeyPatch, broken: type, found: str) -> None:
    monkeypatch.setitem(torture_bytes.__globals__, "BoardParser", broken)
    figures = torture_bytes(20_000, SEED)
    assert not figures.is_right
    assert getattr(figures, found)
