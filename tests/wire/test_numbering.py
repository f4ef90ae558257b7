"""Every rule of board-lines.md about boot and seq, in its own words, and what must hold for any order of arrival."""

from __future__ import annotations

import pickle
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.numbering import BACK_MS, MAX_BOOTS, MAX_RANGES, Missing, Numbering, Taken

BOOT = 17


def fed(*seqs: int, boot: int = BOOT, kind: str = "report") -> tuple[Numbering, list[Taken]]:
    numbers = Numbering()
    return numbers, [numbers.take(kind, boot, seq, float(i)) for i, seq in enumerate(seqs)]


def ranges(numbers: Numbering) -> list[tuple[int, int]]:
    return [(row.first, row.last) for row in numbers.missing]


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


def test_numbers_before_the_first_heard_of_a_later_boot_are_a_gap() -> None:
    numbers, _ = fed(50)
    assert numbers.take("hello", 18, None, 1.0) == Taken(True, False, True)
    assert numbers.take("report", 18, 3, 2.0) == Taken(True, False, False, gaps=((1, 2),))
    assert numbers.boot == 18


def test_new_means_different_for_a_boot_may_be_a_random_number() -> None:
    numbers, _ = fed(1, boot=4_000_000_000)
    assert numbers.take("report", 12, 1, 1.0).new_boot
    assert numbers.boot == 12


def test_lines_of_a_boot_that_is_over_count_once_and_late() -> None:
    numbers, _ = fed(1, 2, 5)
    numbers.take("hello", 18, None, 6.0)
    assert numbers.take("report", BOOT, 4, 6.5) == Taken(True, True, False, filled=4)
    assert numbers.take("report", BOOT, 7, 6.5) == Taken(True, True, False, gaps=((6, 6),))
    assert not numbers.take("report", BOOT, 7, 6.5).fresh
    assert numbers.boot == 18


def test_a_boot_taken_for_over_holds_again_when_it_alone_is_heard() -> None:
    """A stray line of an unheard boot must not make the board's own lines late for the rest of the evening."""
    numbers, _ = fed(1, 2)
    assert numbers.take("report", 16, 40, 3.0).new_boot
    assert not numbers.take("alive", BOOT, 2, 4.0).new_boot
    assert numbers.take("alive", BOOT, 2, 6.1).new_boot
    assert numbers.take("report", BOOT, 3, 6.2) == Taken(True, False, False)


def test_a_report_alone_does_not_bring_a_boot_back() -> None:
    numbers, _ = fed(1, 2)
    numbers.take("hello", 18, None, 3.0)
    assert numbers.take("report", BOOT, 3, 60.0) == Taken(True, True, False)
    assert numbers.boot == 18


def test_a_start_under_the_same_number_counts_from_1_again() -> None:
    numbers = Numbering()
    for seq in (1, 2, 3):
        numbers.take("report", BOOT, seq, 60.0, ms=60_000 + seq)
    assert not numbers.take("hello", BOOT, None, 61.0, ms=61_000).new_boot
    assert numbers.take("hello", BOOT, None, 70.0, ms=900) == Taken(True, False, True)
    assert numbers.take("state", BOOT, 1, 70.1, ms=950) == Taken(True, False, False)


def test_what_a_broker_brings_once_more_after_minutes_is_no_start() -> None:
    """Mosquitto 2.0.11, killed, delivers again what was on its way at its last saving, though it had been acknowledged."""
    numbers = Numbering()
    assert numbers.take("hello", BOOT, None, 1.0, ms=1_000) == Taken(True, False, False)
    numbers.take("report", BOOT, 1, 2.0, ms=2_000)
    numbers.take("report", BOOT, 2, 120.0, ms=120_000)
    assert not numbers.take("hello", BOOT, None, 121.0, ms=1_000).new_boot
    assert numbers.take("report", BOOT, 1, 121.0, ms=2_000) == Taken(False, True, False)
    assert numbers.take("report", BOOT, 3, 121.1, ms=121_100) == Taken(True, False, False)
    assert numbers.take("hello", BOOT, None, 122.0, ms=900).new_boot  # this one was not heard before


def test_a_board_that_starts_just_as_before_under_the_same_number_is_found_out() -> None:
    """Its hello is the same to the byte; its next alive shows that its clock runs from there."""
    numbers = Numbering()
    numbers.take("hello", BOOT, None, 1.0, ms=1_000)
    for seq in (1, 2, 3):
        numbers.take("report", BOOT, seq, 60.0 + seq, ms=60_000 + 1_000 * seq)
    assert not numbers.take("hello", BOOT, None, 80.0, ms=1_000).new_boot
    assert not numbers.take("report", BOOT, 1, 80.5, ms=1_503).fresh
    assert not numbers.take("report", BOOT, 2, 80.6, ms=40_000).new_boot  # of the boot before, brought late
    assert numbers.take("alive", BOOT, 1, 82.0, ms=3_004) == Taken(True, False, True, gaps=((1, 1),))
    assert numbers.take("report", BOOT, 1, 82.1, ms=1_503).filled == 1


@pytest.mark.parametrize("kind", ["hello", "alive"])
def test_nor_does_it_bring_back_a_boot_that_is_over(kind: str) -> None:
    numbers = Numbering()
    seq = None if kind == "hello" else 1
    numbers.take("report", BOOT, 1, 0.5, ms=500)
    numbers.take(kind, BOOT, seq, 1.0, ms=1_000)
    numbers.take("hello", 18, None, 60.0, ms=10)
    assert not numbers.take(kind, BOOT, seq, 70.0, ms=1_000).new_boot
    assert numbers.boot == 18
    assert numbers.take(kind, BOOT, seq, 71.0, ms=72_000).new_boot  # it alone is heard: it is the board's own
    assert numbers.boot == BOOT


def test_a_clock_that_wraps_is_no_start() -> None:
    numbers = Numbering()
    numbers.take("report", BOOT, 1, 60.0, ms=0xFFFF_FFF0)
    assert not numbers.take("hello", BOOT, None, 61.0, ms=984).new_boot
    assert not numbers.take("hello", BOOT, None, 61.0, ms=984 - BACK_MS + 1).new_boot


def test_a_damaged_number_does_not_make_the_evening_late() -> None:
    """XOR lets two changed bytes through: 1234 may become 2134. Two alives that deny it bring the numbers back."""
    numbers = Numbering()
    numbers.take("report", BOOT, 1234, 0.0, ms=1000)
    assert numbers.take("report", BOOT, 2134, 1.0, ms=2000).gaps == ((1235, 2133),)
    assert numbers.take("report", BOOT, 1236, 1.5, ms=2500) == Taken(True, True, False, filled=1236)
    assert numbers.take("alive", BOOT, 1236, 2.0, ms=3000).closed == ()
    assert numbers.take("alive", BOOT, 1237, 4.0, ms=5000).closed == ()
    assert ranges(numbers) == [(1235, 1235), (1237, 1237)]
    assert numbers.take("report", BOOT, 1237, 4.1, ms=5100) == Taken(True, False, False, filled=1237)
    assert numbers.take("report", BOOT, 1238, 4.2, ms=5200) == Taken(True, False, False)
    assert numbers.take("report", BOOT, 1235, 4.3, ms=1900).closed == ((1235, 2133),)


def test_a_gap_that_a_damaged_number_had_made_is_closed_whole() -> None:
    numbers = Numbering()
    numbers.take("report", BOOT, 12, 0.0, ms=1000)
    numbers.take("report", BOOT, 21, 1.0, ms=2000)
    numbers.take("alive", BOOT, 12, 2.0, ms=3000)
    assert numbers.take("alive", BOOT, 12, 4.0, ms=5000).closed == ((13, 20),)
    assert (numbers.missing, numbers.highest) == ((), 12)


def test_each_denial_needs_two_alives() -> None:
    numbers = Numbering()
    numbers.take("report", BOOT, 12, 0.0, ms=1000)
    numbers.take("report", BOOT, 21, 1.0, ms=2000)
    numbers.take("alive", BOOT, 12, 2.0, ms=3000)
    numbers.take("alive", BOOT, 12, 4.0, ms=5000)
    numbers.take("report", BOOT, 13, 5.0, ms=6000)
    numbers.take("alive", BOOT, 3, 6.0, ms=7000)
    assert numbers.highest == 13


def test_an_alive_delivered_again_denies_nothing() -> None:
    numbers = Numbering()
    numbers.take("alive", BOOT, 5, 0.0, ms=1000)
    numbers.take("report", BOOT, 6, 1.0, ms=2000)
    for t in (2.0, 3.0, 4.0):
        numbers.take("alive", BOOT, 5, t, ms=1000)
    assert numbers.highest == 6


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
