"""When a line happened: delays, drift, wraps and damaged milliseconds, against clocks that are made up here."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.conditioning.board_clock import BoardClock

WRAP = 1 << 32


def evening(seed: int, ppm: float, lag_s: float, jitter_s: float) -> Iterator[tuple[float, float, int]]:
    """(arrival, truth, milliseconds) of half an hour's lines, in the order of arrival."""
    chance = random.Random(seed)
    truth = arrival = 0.0
    while truth < 1800:
        truth += chance.choice([2.0, chance.uniform(0.05, 2.0)])
        arrival = max(arrival, truth + lag_s + chance.uniform(0.0, jitter_s))
        yield round(arrival, 6), truth, int(5000 + truth * 1000 * (1 - ppm * 1e-6)) % WRAP


@pytest.mark.parametrize("ppm", [0, 30, -30, 2000, -2000, 20_000, -20_000])
@pytest.mark.parametrize(("lag_s", "jitter_s"), [(0.003, 0.005), (0.005, 0.1)])
def test_a_line_is_put_where_it_happened_whatever_the_oscillator(ppm: float, lag_s: float, jitter_s: float) -> None:
    """Within the lag and jitter, most of them far nearer."""
    clock = BoardClock()
    errors = []
    for t, truth, ms in evening(1, ppm, lag_s, jitter_s):
        happened = clock.happened_t(clock.hear(ms, t), t)
        assert happened <= t
        errors.append(abs(happened - truth))
    errors = sorted(errors[60:])
    assert errors[len(errors) // 2] <= lag_s + jitter_s / 10
    assert errors[-1] <= lag_s + jitter_s


def beats(seed: int, most_late_s: float, ppm: float, started_ms: int, busy: bool) -> Iterator[tuple[float, float, int]]:
    """(arrival, truth, milliseconds) of four minutes: an `alive` every 2 s, and reports between them where it is busy."""
    chance = random.Random(seed)
    truths = [2.0 * beat for beat in range(120)] + [chance.uniform(0, 240) for _ in range(300 if busy else 0)]
    arrival = 0.0
    for truth in sorted(truths):
        arrival = max(arrival, truth + chance.uniform(0, most_late_s))
        yield round(arrival, 6), truth, int(started_ms + truth * 1000 * (1 - ppm * 1e-6)) % WRAP


@pytest.mark.parametrize(
    ("most_late_s", "within_s"), [pytest.param(0.005, 0.02, id="wire"), pytest.param(0.04, 0.05, id="radio")]
)
@given(
    seed=st.integers(0, 10_000),
    ppm=st.floats(-20_000, 20_000),
    started_ms=st.one_of(st.integers(0, WRAP - 1), st.integers(WRAP - 240_000, WRAP - 1)),
    busy=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_after_a_minute_of_heartbeats_times_are_right(
    most_late_s: float, within_s: float, seed: int, ppm: float, started_ms: int, busy: bool
) -> None:
    """Whatever the oscillator and wherever the milliseconds wrap. The figures are the project's own aim."""
    clock = BoardClock()
    whole = -1
    for t, truth, ms in beats(seed, most_late_s, ppm, started_ms, busy):
        before, whole = whole, clock.hear(ms, t)
        assert whole >= before
        if truth >= 60:
            assert abs(clock.happened_t(whole, t) - truth) <= within_s


@given(seed=st.integers(0, 10_000), ppm=st.floats(-20_000, 20_000), asleep_s=st.floats(7, 40_000))
@settings(max_examples=40, deadline=None)
def test_a_board_whose_clock_stood_while_it_slept_is_right_again_after_some_lines(
    seed: int, ppm: float, asleep_s: float
) -> None:
    """An AVR's timer stands in power-down sleep (ATmega328P data sheet, sleep modes; from memory)."""
    clock = BoardClock()
    for t, truth, ms in beats(seed, 0.005, ppm, 5000, False):
        asleep = asleep_s if truth >= 100 else 0.0
        whole = clock.hear(ms, t + asleep)
        happened = clock.happened_t(whole, t + asleep)
        assert happened <= t + asleep
        if truth >= 106:
            assert abs(happened - truth - asleep) <= 0.05
        if truth >= 160:
            assert abs(happened - truth - asleep) <= 0.02


def test_after_a_sleep_what_is_sent_again_from_before_it_keeps_its_time() -> None:
    clock = BoardClock()
    for n in range(40):
        clock.hear(2000 * n, 2.0 * n)
    for n in range(40, 60):
        clock.hear(2000 * n, 2.0 * n + 600)
    assert clock.happened_t(clock.hear(61_000, 720.0), 720.0) == 61.0
    assert clock.happened_t(clock.hear(101_000, 720.0), 720.0) == 701.0


@pytest.mark.parametrize("ppm", [2000, -2000, 20_000])
def test_the_drift_is_measured(ppm: float) -> None:
    clock = BoardClock()
    assert clock.drift_ppm is None
    for t, _, ms in evening(2, ppm, 0.003, 0.005):
        clock.hear(ms, t)
    assert clock.drift_ppm == pytest.approx(ppm, rel=0.05)


def test_32_bits_wrap() -> None:
    clock = BoardClock()
    one = clock.hear(WRAP - 500, 10.0)
    other = clock.hear(500, 11.0)
    assert other - one == 1000
    assert (clock.happened_t(one, 11.0), clock.happened_t(other, 11.0)) == (10.0, 11.0)


def test_a_line_sent_again_after_a_wrap_belongs_before_it() -> None:
    clock = BoardClock()
    clock.hear(WRAP - 500, 10.0)
    clock.hear(500, 11.0)
    again = clock.hear(WRAP - 250, 14.0)
    assert clock.happened_t(again, 14.0) == 10.25


def test_lines_that_were_held_up_are_put_right_by_the_first_that_was_not() -> None:
    clock = BoardClock()
    for ms in (1000, 3000, 5000):
        clock.hear(ms, 60.0)
    assert clock.happened_t(clock.hear(57_000, 60.0), 60.0) == 60.0
    assert clock.happened_t(clock.hear(58_000, 61.5), 61.5) == 61.0


def test_a_delay_moves_nothing_that_is_known() -> None:
    clock = BoardClock()
    for n in range(60):
        clock.hear(1000 * n, float(n))
    assert clock.happened_t(clock.hear(60_000, 64.0), 64.0) == 60.0


def test_a_line_sent_again_long_after_is_put_by_the_offset_of_its_own_time() -> None:
    """A board 20,000 ppm slow: after 5 minutes its offset has grown by 6 s."""
    clock = BoardClock()
    for t in range(0, 600, 2):
        clock.hear(round(t * 980), float(t))
    again = clock.hear(round(300.5 * 980), 600.0)
    assert clock.happened_t(again, 600.0) == pytest.approx(300.5, abs=0.002)


def settled() -> tuple[BoardClock, int]:
    clock = BoardClock()
    for n in range(30):
        clock.hear(1000 * n, float(n))
    return clock, 30


def test_a_damaged_time_far_ahead_moves_nothing() -> None:
    clock, n = settled()
    assert clock.happened_t(clock.hear(900_000, float(n)), float(n)) == float(n)
    assert clock.happened_t(clock.hear(31_000, 31.0), 31.0) == 31.0
    assert clock.offset_s == 0.0


def test_a_leap_down_that_a_second_line_confirms_is_followed() -> None:
    clock, n = settled()
    clock.hear(1000 * n + 5000, float(n))
    whole = clock.hear(1000 * n + 6000, n + 1.0)
    assert clock.happened_t(whole, n + 1.5) == n + 1.0


def test_an_offset_set_too_low_by_an_early_damage_heals() -> None:
    clock = BoardClock()
    clock.hear(900_000, 1.0)
    for n in range(2, 40):
        whole = clock.hear(1000 * n, float(n))
    assert clock.happened_t(whole, 39.0) == 39.0


def test_over_a_stop_it_keeps_how_the_milliseconds_have_wrapped() -> None:
    clock = BoardClock()
    one = clock.hear(WRAP - 500, 10.0)
    clock.begin_anew()
    assert clock.hear(500, 500.0, is_hello=True) - one == 1000
    assert (clock.happened_t(one, 500.0), clock.happened_t(one + 1000, 500.0)) == (10.0, 500.0)


@pytest.mark.parametrize("start_t", [31.0, 3_600.0])
def test_over_a_stop_what_was_kept_meanwhile_keeps_its_time(start_t: float) -> None:
    clock, n = settled()
    clock.begin_anew()
    for ms in (1000 * n + 200, 1000 * n + 300, 1000 * n + 700):
        assert clock.happened_t(clock.hear(ms, start_t), start_t) == ms / 1000
    whole = clock.hear(round(start_t * 1000), start_t, is_hello=True)
    assert clock.happened_t(whole, start_t) == start_t
    assert clock.offset_s == 0.0


def test_where_the_hosts_seconds_have_leapt_over_a_stop_the_next_hello_is_believed() -> None:
    """The board counted 1 s, the host half an hour."""
    clock, n = settled()
    clock.begin_anew()
    assert clock.happened_t(clock.hear(1000 * n, 1830.0, is_hello=True), 1830.0) == 1830.0
    assert clock.happened_t(clock.hear(1000 * n + 1000, 1833.0), 1833.0) == 1831.0
    assert clock.happened_t(clock.hear(1000 * n - 5000, 1834.0), 1834.0) == n - 5.0


def test_a_hello_without_a_stop_before_it_may_be_held_up_as_any_line() -> None:
    clock, n = settled()
    assert clock.happened_t(clock.hear(1000 * n, n + 4.0, is_hello=True), n + 4.0) == n
    assert clock.offset_s == 0.0


def test_where_the_hosts_seconds_lag_after_a_stop_the_first_line_shows_it() -> None:
    """The board counted 30 s, the host 1 s: nothing comes before it is said."""
    clock, _ = settled()
    clock.begin_anew()
    assert clock.happened_t(clock.hear(60_000, 31.0), 31.0) == 31.0
    assert clock.happened_t(clock.hear(61_000, 33.0), 33.0) == 32.0
