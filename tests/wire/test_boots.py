"""Every rule of board-lines.md about boot, in its own words, and numbers that damage has made."""

from __future__ import annotations

import pytest

from bridge.wire.numbering import BACK_MS, Numbering, Taken

from .numbered import BOOT, fed, ranges


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
