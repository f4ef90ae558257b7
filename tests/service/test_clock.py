"""Seconds keep 6 decimals, never run back, and go on over a restart by the time of day."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.journal import Moment
from bridge.service.clock import LONGEST_PAUSE_S, HostClock, going_on, not_before

seconds = st.floats(0, 999_999, allow_nan=False)


@given(seconds, seconds)
def test_a_kept_time_is_not_before_its_floor_and_survives_writing(t: float, floor_t: float) -> None:
    kept = not_before(t, floor_t)
    assert kept >= floor_t
    assert float(f"{kept:.6f}") == kept
    assert abs(kept - max(t, floor_t)) <= 1.5e-6


def test_a_deadline_with_more_decimals_stays_before_the_line_behind_it() -> None:
    floor_t = 103.30000000000001
    assert round(floor_t, 6) < floor_t  # rounding alone would put the line first
    assert not_before(103.3, floor_t) == 103.300001


@pytest.mark.parametrize(
    ("last", "last_t", "wall", "expected"),
    [
        pytest.param(None, 0.0, 5000.0, 0.0, id="a new store begins at 0"),
        pytest.param(Moment(60.0, 1000.0), 59.5, 1090.0, 150.0, id="by the difference"),
        pytest.param(Moment(60.0, 1000.0), 59.5, 400.0, 60.0, id="the time of day was set back"),
        pytest.param(Moment(60.0, 1000.0), 60.5, 1000.1, 60.5, id="never before the last line"),
        pytest.param(Moment(60.0, 0.0), 59.0, 1.8e9, 60.0 + LONGEST_PAUSE_S, id="the clock had not been set"),
    ],
)
def test_a_store_goes_on(last: Moment | None, last_t: float, wall: float, expected: float) -> None:
    assert going_on(last, last_t, wall) == expected


def test_only_the_monotonic_clock_counts() -> None:
    ticks = iter([100.0, 100.0, 107.5])
    days = iter([5.0, 4.0])
    clock = HostClock(60.0, lambda: next(ticks), lambda: next(days))
    assert clock.now() == Moment(60.0, 5.0)
    assert clock.now() == Moment(67.5, 4.0)
