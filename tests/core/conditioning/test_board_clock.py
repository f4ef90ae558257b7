"""When a line happened: delays, drift, wraps and damaged milliseconds, against clocks that are made up here."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

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
    """Within the lag and jitter, and what 20,000 ppm make of the time between two windows."""
    clock = BoardClock()
    errors = []
    for t, truth, ms in evening(1, ppm, lag_s, jitter_s):
        happened = clock.happened_t(clock.hear(ms, t), t)
        assert happened <= t
        errors.append(abs(happened - truth))
    errors = sorted(errors[60:])
    spare_s = 0.15 if abs(ppm) > 5000 else 0.01
    assert errors[len(errors) // 2] <= lag_s + jitter_s / 2 + spare_s / 3
    assert errors[-1] <= lag_s + jitter_s + spare_s


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
    assert clock.happened_t(again, 600.0) == pytest.approx(300.5, abs=0.3)


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


def test_judged_anew_it_keeps_how_the_milliseconds_have_wrapped() -> None:
    clock = BoardClock()
    one = clock.hear(WRAP - 500, 10.0)
    clock.begin_anew()
    assert clock.offset_s is None
    assert clock.hear(500, 500.0) - one == 1000
    assert clock.happened_t(one, 500.0) == 499.0
