"""A tag that lies at a reader is told from one that passes, out and back too, by how often and how soon it is said."""

from __future__ import annotations

import pytest

from bridge.core.whereabouts.weighing.lying import AWAY_S, Lying

MOUTH = "a.dock@down"


def told(*times: float, tag: str = "04A1") -> list[bool]:
    lying = Lying()
    return [lying.lies(tag, MOUTH, t) for t in times]


@pytest.mark.parametrize("gap_s", [2.5, 4.0, 9.0])
def test_from_the_fourth_time_on_it_lies_there(gap_s: float) -> None:
    assert told(*(gap_s * n for n in range(6))) == [False] * 3 + [True] * 3


def test_said_on_end_for_longer_than_anything_passes_it_lies_there() -> None:
    assert told(*(0.8 * n for n in range(10))) == [False] * 8 + [True] * 2


def test_out_and_back_is_no_lying() -> None:
    assert told(0.0, 0.8, 6.0, 6.9) == [False] * 4


def test_what_has_been_away_passes() -> None:
    times = [3.0 * n for n in range(5)]
    assert told(*times, times[-1] + AWAY_S + 0.1)[-2:] == [True, False]


def test_every_tag_and_every_reader_for_itself() -> None:
    lying = Lying()
    for n in range(5):
        lying.lies("04A1", MOUTH, 3.0 * n)
    assert not lying.lies("04A2", MOUTH, 13.0)
    assert not lying.lies("04A1", "a.main@down", 13.0)
    assert lying.lies("04A1", MOUTH, 13.0)
