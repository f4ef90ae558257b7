"""Seconds keep 6 decimals, never run back, and go on over a restart by the time of day; where that is set is noted."""

from __future__ import annotations

import calendar
import time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.journal import ClockStep, Moment
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


class Host:
    """A computer whose clocks are turned by hand: seconds that nobody sets, and a time of day that anybody may."""

    def __init__(self, wall: float = 1_790_000_000.0) -> None:
        self.elapsed_s = 500.0
        self.wall_s = wall

    def elapsed(self) -> float:
        return self.elapsed_s

    def wall(self) -> float:
        return self.wall_s

    def go(self, seconds: float, slewed_s: float = 0.0) -> None:
        """Time passes; the time of day is slewed by so much in it."""
        self.elapsed_s += seconds
        self.wall_s += seconds + slewed_s

    def clock(self, start_t: float = 0.0, **how: Any) -> HostClock:
        return HostClock(start_t, self.elapsed, self.wall, **how)


def test_only_the_clock_that_nobody_sets_counts() -> None:
    host = Host(5.0)
    clock = host.clock(60.0)
    host.go(7.5)
    host.wall_s = 4.0
    assert clock.now() == Moment(67.5, 4.0)
    assert clock() == 67.5


def test_it_may_run_faster_than_a_real_one() -> None:
    host = Host()
    clock = host.clock(60.0, pace=10.0)
    for _ in range(60):
        host.go(1.0)
        clock.now()
    assert clock() == 660.0
    assert clock.take_steps() == []


STEPS = st.one_of(
    st.sampled_from([3600.0, -3600.0, 7200.0, 2.5, -2.5]), st.floats(-1e9, 1e9).filter(lambda by: abs(by) > 2.5)
)
PASSED = st.tuples(st.floats(0.01, 10.0), st.floats(-0.04, 0.04), st.one_of(st.none(), STEPS))
"""Seconds that pass between two looks, the share by which the time of day is slewed in them, and by how much it is then set.

Linux slews by 500 ppm at most (adjtimex(2)); programs that keep time go faster by changing the tick, up to 10 %.
"""


@given(st.lists(PASSED, max_size=60))
@settings(deadline=None)
def test_seconds_never_run_back_and_each_setting_of_the_clock_is_one_entry(
    passed: list[tuple[float, float, float | None]],
) -> None:
    host = Host()
    clock = host.clock(100.0)
    expected, last_t = [], 100.0
    for seconds, slew, step in passed:
        host.go(seconds, slew * seconds)
        if step is not None:
            expected.append((host.wall_s, host.wall_s + step))
            host.wall_s += step
        moment = clock.now()
        assert moment.t >= last_t and moment.wall == host.wall_s
        assert clock.now().t == moment.t  # looking again finds nothing new
        last_t = moment.t
    found = clock.take_steps()
    assert len(found) == len(expected)
    for (before, after), step in zip(expected, found, strict=True):
        assert (step.before, step.after) == (pytest.approx(before, abs=1.3), after)
        assert step.running
    assert clock.take_steps() == []


def test_a_clock_slewed_for_hours_is_never_taken_for_one_that_was_set() -> None:
    host = Host()
    clock = host.clock()
    for _ in range(20_000):
        host.go(1.0, 0.0005)
        clock.now()
    assert host.wall_s - 1_790_000_000.0 - 20_000 == pytest.approx(10.0, abs=0.1)
    assert clock.take_steps() == clock.notices() == []


def test_summer_time_is_no_setting_of_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Unix time runs on through it: on 25 October 2026 at 01:00 UTC central Europe goes back (tz database)."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    try:
        host = Host(calendar.timegm((2026, 10, 25, 0, 59, 50)))
        clock = host.clock()
        faces = []
        for _ in range(20):
            host.go(1.0)
            faces.append(time.strftime("%H:%M", time.localtime(clock.now().wall)))
        assert (faces[0], faces[-1]) == ("02:59", "02:00")
        assert clock.take_steps() == []
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    ("by", "says"),
    [
        (3600.0, "set forward by 1:00:00"),
        (-3600.0, "set back by 1:00:00"),
        (-1_790_000_000.0, "set back by 20717 days"),
    ],
)
def test_it_is_told_for_ten_minutes(by: float, says: str) -> None:
    host = Host()
    clock = host.clock()
    host.go(1.0)
    host.wall_s += by
    (text,) = clock.notices()
    assert says in text and "Nothing here depends on it." in text
    for _ in range(9):
        host.go(60.0)
        assert clock.notices() == [text]
    host.go(60.0)
    assert clock.notices() == []


@pytest.mark.parametrize("wall", [12.0, 1_790_000_000.0 - 3600, 1_790_000_000.0 + 2e8])
def test_a_time_of_day_that_cannot_follow_the_last_is_noted_at_the_start(wall: float) -> None:
    """A computer without a battery clock wakes in 1970; then it is told the time."""
    host = Host(wall)
    last = Moment(40.0, 1_790_000_000.0)
    clock = host.clock(going_on(last, 41.0, host.wall_s), last=last)
    assert clock() >= 41.0
    assert clock.take_steps() == [ClockStep(clock(), last.wall, wall, running=False)]
    assert "was found" in clock.notices()[0]
    host.go(30.0)
    before_t = clock()
    host.wall_s = 1_790_009_000.0
    assert clock.now().t == before_t
    (step,) = clock.take_steps()
    assert (step.before, step.after, step.running) == (wall + 30.0, 1_790_009_000.0, True)


def test_a_usual_pause_is_no_setting_of_the_clock() -> None:
    last = Moment(40.0, 1_790_000_000.0)
    for pause_s in (0.0, -1.9, 3600.0, 86_400.0 * 300):
        host = Host(last.wall + pause_s)
        assert host.clock(going_on(last, 41.0, host.wall_s), last=last).take_steps() == []


class Stopped(Host):
    """A process that is stopped for a minute between two readings of its clocks, once."""

    stops = 1

    def wall(self) -> float:
        wall, self.stops = self.wall_s, self.stops - 1
        if self.stops == 0:
            self.go(60.0)
        return wall


def test_a_process_stopped_between_two_readings_notes_nothing() -> None:
    host = Stopped()
    host.stops = 2
    clock = host.clock()
    assert clock.now() == Moment(60.0, host.wall_s)
    assert clock.take_steps() == []
