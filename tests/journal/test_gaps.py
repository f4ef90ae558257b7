"""Gaps found by intervals are those found by counting on the fingers."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.events import Journalled
from bridge.journal import Gap, gaps
from bridge.wire.lines import Alive, Report
from bridge.wire.records import Received


def came(*seqs: int, board: str = "alder", boot: int = 3, t: float = 1.0) -> list[Received]:
    return [Received(t, "mqtt", Report(board, boot, seq, seq * 10, 1, "on")) for seq in seqs]


def numbered(records: list[Received]) -> list[Journalled]:
    return [Journalled(n, record) for n, record in enumerate(records, 1)]


def test_a_lost_number_is_a_gap_until_it_comes() -> None:
    lost = came(4, 5, 8)
    assert gaps(numbered(lost)) == (Gap("alder", 3, 6, 7, 1.0),)
    assert gaps(numbered([*lost, *came(6)])) == (Gap("alder", 3, 7, 7, 1.0),)
    assert gaps(numbered([*lost, *came(6, 7)])) == ()


def test_alive_proves_a_loss() -> None:
    alive = Received(2.0, "mqtt", Alive("alder", 3, 7, 100))
    assert gaps(numbered([*came(5), alive])) == (Gap("alder", 3, 6, 7, 2.0),)


def test_a_later_boot_counts_from_its_first_number() -> None:
    assert gaps(numbered([*came(9), *came(3, boot=4, t=2.0)])) == (Gap("alder", 4, 1, 2, 2.0),)


@given(st.lists(st.integers(1, 30), min_size=1, max_size=40))
def test_they_are_the_numbers_that_never_came(seqs: list[int]) -> None:
    found = gaps(numbered(came(*seqs)))
    missing = {number for gap in found for number in range(gap.first, gap.last + 1)}
    assert missing == set(range(seqs[0], max(seqs))) - set(seqs)
    assert all(gap.first <= gap.last for gap in found)
