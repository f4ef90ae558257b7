"""Every rule of board-lines.md about seq, in its own words, and what must hold for any order of arrival."""

from __future__ import annotations

import pickle
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.numbering import MAX_BOOTS, MAX_RANGES, Missing, Numbering, Taken

from .numbered import BOOT, fed, ranges


def test_seq_counts_report_and_state_lines_of_this_boot_from_1() -> None:
    numbers = Numbering()
    kinds = ["state", "report", "state", "report"]
    rows = [numbers.take(kind, BOOT, seq, 0.0) for seq, kind in enumerate(kinds, start=1)]
    assert all(row == Taken(fresh=True, late=False, new_boot=False) for row in rows)
    assert (numbers.highest, numbers.missing) == (4, ())


def test_alive_one_higher_than_received_proves_a_loss() -> None:
    numbers, _ = fed(1, 2)
    assert numbers.take("alive", BOOT, 3, 9.0).gaps == ((3, 3),)
    assert numbers.missing == (Missing(BOOT, 3, 3, 9.0, (3, 3)),)
    assert numbers.take("alive", BOOT, 3, 11.0).gaps == ()


def test_alive_carries_0_before_any_and_that_is_a_number_heard() -> None:
    numbers = Numbering()
    assert numbers.take("alive", BOOT, 0, 0.0).gaps == ()
    assert numbers.take("report", BOOT, 3, 1.0).gaps == ((1, 2),)


def test_a_lost_number_is_a_gap_at_once() -> None:
    numbers, rows = fed(1, 2, 5)
    assert rows[2] == Taken(fresh=True, late=False, new_boot=False, gaps=((3, 4),))
    assert numbers.missing == (Missing(BOOT, 3, 4, 2.0, (3, 4)),)


def test_a_report_sent_again_fills_is_late_and_closes_its_gap_with_its_last_number() -> None:
    numbers, _ = fed(1, 5)
    assert numbers.take("report", BOOT, 3, 9.0) == Taken(True, True, False, filled=3)
    assert ranges(numbers) == [(2, 2), (4, 4)]
    assert numbers.missing[0].gap == (2, 4)
    assert numbers.take("report", BOOT, 2, 9.0) == Taken(True, True, False, filled=2)
    assert numbers.take("report", BOOT, 4, 9.0) == Taken(True, True, False, filled=4, closed=((2, 4),))
    assert numbers.missing == ()


def test_a_report_is_late_only_below_the_highest_received() -> None:
    numbers, _ = fed(1)
    numbers.take("alive", BOOT, 4, 1.0)
    assert not numbers.take("report", BOOT, 3, 2.0).late
    assert numbers.take("report", BOOT, 2, 2.0).late
    assert not numbers.take("report", BOOT, 4, 2.0).late


def test_a_number_that_was_a_state_line_is_never_late() -> None:
    numbers, _ = fed(1, 5)
    assert numbers.take("state", BOOT, 3, 9.0) == Taken(True, False, False, filled=3)


def test_board_boot_and_seq_make_each_report_count_once() -> None:
    numbers, rows = fed(1, 2, 2, 1)
    assert [row.fresh for row in rows] == [True, True, False, False]
    assert numbers.missing == ()


def test_numbers_before_the_first_heard_of_the_first_boot_are_no_gap() -> None:
    numbers, rows = fed(50, 51)
    assert rows[0].gaps == ()
    assert numbers.missing == ()
    assert numbers.take("report", BOOT, 48, 3.0) == Taken(fresh=True, late=True, new_boot=False)
    assert not numbers.take("report", BOOT, 48, 4.0).fresh


def test_an_alive_may_be_the_first_heard() -> None:
    numbers = Numbering()
    assert numbers.take("alive", BOOT, 50, 0.0).gaps == ()
    assert numbers.take("report", BOOT, 52, 1.0).gaps == ((51, 51),)


def test_a_hello_carries_no_number() -> None:
    numbers = Numbering()
    assert numbers.take("hello", BOOT, None, 0.0) == Taken(True, False, False)
    assert numbers.take("report", BOOT, 7, 1.0).gaps == ()


def test_memory_is_bounded() -> None:
    numbers = Numbering()
    for seq in range(1, 4 * MAX_RANGES, 2):
        numbers.take("report", BOOT, seq, 0.0)
    assert len(numbers.missing) == MAX_RANGES
    assert ranges(numbers)[-1] == (4 * MAX_RANGES - 2, 4 * MAX_RANGES - 2)
    for boot in range(100, 100 + 3 * MAX_BOOTS):
        numbers.take("hello", boot, None, 1.0)
    assert sum(numbers.knows(boot) for boot in range(200)) == MAX_BOOTS
    assert len(pickle.dumps(numbers)) < 100_000


def test_the_highest_number_there_is() -> None:
    numbers, rows = fed(1, 0xFFFF_FFFF)
    assert rows[1].gaps == ((2, 0xFFFF_FFFE),)
    assert numbers.take("report", BOOT, 77, 5.0).filled == 77


def model(seqs: list[int]) -> tuple[set[int], int]:
    return set(seqs), max(seqs)


lines = st.lists(st.integers(1, 40), min_size=1, max_size=60)


@given(lines, st.randoms(use_true_random=False))
def test_order_and_repeats_change_neither_what_counts_nor_what_is_missing(seqs: list[int], chance: object) -> None:
    """Against a plain set of the numbers received. An alive of 0 first, so that every number below is a loss."""
    results = []
    again = [*seqs, *seqs]
    chance.shuffle(again)  # type: ignore[attr-defined]
    for order in (seqs, again):
        numbers = Numbering()
        numbers.take("alive", BOOT, 0, 0.0)
        rows = [numbers.take("report", BOOT, seq, float(i)) for i, seq in enumerate(order)]
        assert sum(row.fresh for row in rows) == len(set(seqs))
        results.append({n for first, last in ranges(numbers) for n in range(first, last + 1)})
    got, most = model(seqs)
    assert results[0] == results[1] == set(range(1, most + 1)) - got


@given(lines)
def test_late_means_below_the_highest_received(seqs: list[int]) -> None:
    numbers = Numbering()
    highest = 0
    for i, seq in enumerate(seqs):
        assert numbers.take("report", BOOT, seq, float(i)).late == (seq < highest)
        highest = max(highest, seq)
        assert numbers.highest == highest


@given(lines)
def test_every_gap_is_told_once_and_closed_once(seqs: list[int]) -> None:
    """Gaps told, less gaps closed, are those of which something is missing still."""
    numbers = Numbering()
    told: list[tuple[int, int]] = []
    closed: list[tuple[int, int]] = []
    for i, seq in enumerate(seqs):
        row = numbers.take("report", BOOT, seq, float(i))
        told += row.gaps
        closed += row.closed
    assert len(set(told)) == len(told)
    assert len(set(closed)) == len(closed)
    assert set(told) - set(closed) == {row.gap for row in numbers.missing}


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["report", "state", "alive", "hello"]),
            st.integers(0, 4),
            st.integers(1, 20),
            st.integers(0, 9),
            st.integers(0, 30_000),
        ),
        max_size=60,
    )
)
def test_any_mixture_keeps_the_account_in_order(rows: list[tuple[str, int, int, int, int]]) -> None:
    numbers = Numbering()
    t = 0.0
    for kind, boot, seq, wait, ms in rows:
        t += wait
        row = numbers.take(kind, boot, None if kind == "hello" else seq, t, ms)
        assert row.filled in (None, seq)
    by_boot: dict[int, list[Missing]] = {}
    for gap in numbers.missing:
        by_boot.setdefault(gap.boot, []).append(gap)
    for gaps in by_boot.values():
        assert all(one.last < other.first for one, other in pairwise(gaps))
        assert all(gap.gap[0] <= gap.first <= gap.last <= gap.gap[1] for gap in gaps)
