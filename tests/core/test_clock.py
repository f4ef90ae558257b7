"""The session clock: rate, stops, the service's pauses, hours past 23, and no float noise."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.clock import SessionClock, clock_text, parse_clock

SEVEN_PM = 19 * 3600.0


def begun(rate: float = 4.0, t: float = 1.0, at: float = SEVEN_PM) -> SessionClock:
    clock = SessionClock(rate)
    clock.begin(at, t)
    return clock


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("19:00", SEVEN_PM),
        ("7:05", 7 * 3600 + 300.0),
        ("00:00:00", 0.0),
        ("23:59:59", 86_399.0),
        ("24:05:10", 86_710.0),
        (" 19:00 ", SEVEN_PM),
        ("19", None),
        ("19:60", None),
        ("19:00:60", None),
        ("19.00", None),
        ("-1:00", None),
        ("١٩:٠٠", None),
        ("", None),
    ],
)
def test_times_of_day_are_read(text: str, seconds: float | None) -> None:
    assert parse_clock(text) == seconds


def test_before_begin_there_is_no_time() -> None:
    clock = SessionClock(4)
    assert (clock.session_s(5.0), clock.text(5.0), clock.host_t(SEVEN_PM), clock.begun) == (None, None, None, False)
    for change in (clock.stop, clock.host_stopped, clock.host_started, clock.go_on):
        change(6.0)
    assert clock.text(7.0) is None


def test_four_railway_minutes_to_one_real_minute() -> None:
    assert begun().text(61.0) == "19:04:00"


def test_times_past_24_compare_unwrapped_and_are_shown_past_23() -> None:
    clock = begun(rate=1, at=23 * 3600 + 59 * 60.0)
    assert clock.session_s(1.0 + 370) == 86_710.0
    assert clock.text(1.0 + 370) == "24:05:10"


def test_a_stopped_clock_stands_and_goes_on_from_there() -> None:
    clock = begun()
    clock.stop(61.0)
    assert (clock.text(500.0), clock.stopped) == ("19:04:00", True)
    clock.stop(500.0)
    clock.go_on(561.0)
    clock.go_on(570.0)
    assert (clock.text(576.0), clock.stopped) == ("19:05:00", False)


def test_between_stopped_and_started_the_session_clock_stands_still() -> None:
    clock = begun()
    clock.host_stopped(61.0)
    assert clock.host_t(SEVEN_PM + 300) is None
    clock.host_started(10_061.0)
    assert clock.text(10_076.0) == "19:05:00"


def test_a_clock_that_an_operator_stopped_stays_stopped_over_a_pause_of_the_service() -> None:
    clock = begun()
    clock.stop(61.0)
    clock.host_stopped(70.0)
    clock.go_on(75.0)
    clock.stop(76.0)
    clock.host_started(80.0)
    assert clock.text(1000.0) == "19:04:00"
    clock.go_on(1000.0)
    assert clock.text(1015.0) == "19:05:00"


def test_when_a_time_will_come() -> None:
    clock = begun()
    assert clock.host_t(SEVEN_PM + 60) == 16.0
    assert clock.host_t(SEVEN_PM) == 1.0
    assert clock.host_t(0.0) == 1.0
    clock.stop(5.0)
    assert clock.host_t(SEVEN_PM + 60) is None


def test_the_shown_second_is_the_one_begun() -> None:
    assert clock_text(SEVEN_PM + 59.999) == "19:00:59"
    assert clock_text(SEVEN_PM + 59.9999999) == "19:01:00"  # float noise below a full second is that second
    assert clock_text(100 * 3600.0) == "100:00:00"


def test_a_rate_must_be_above_0() -> None:
    with pytest.raises(ValueError, match="above 0"):
        SessionClock(0)


def test_begin_starts_a_clock_that_had_been_stopped_before() -> None:
    clock = SessionClock(4)
    clock.stop(0.5)
    clock.begin(SEVEN_PM, 1.0)
    assert clock.text(16.0) == "19:01:00"


def test_it_can_be_pickled() -> None:
    assert pickle.loads(pickle.dumps(begun())).text(61.0) == "19:04:00"


rates = st.sampled_from([0.5, 1.0, 3.0, 4.0, 6.0, 7.3, 12.0, 60.0])
micros = st.integers(0, 40_000_000_000)


@given(rates, micros, st.integers(0, 100_000))
def test_the_moment_named_for_a_time_is_the_first_that_has_reached_it(rate: float, start: int, ahead_s: int) -> None:
    """Else a deadline would wake the core too early, for ever, or late."""
    clock = begun(rate=rate, t=start / 1e6)
    t = clock.host_t(SEVEN_PM + ahead_s)
    assert t is not None
    assert t == round(t, 6)
    reached = clock.session_s(t)
    assert reached is not None
    assert reached >= SEVEN_PM + ahead_s
    assert clock.text(t) == clock_text(SEVEN_PM + ahead_s)
    if ahead_s:
        before = clock.session_s(round(t - 2e-6, 6))
        assert before is not None
        assert before < SEVEN_PM + ahead_s


@given(rates, st.lists(st.tuples(st.sampled_from(["stop", "go_on", "host_stopped", "host_started"]), st.integers(0, 10**9))))
def test_it_never_runs_back_nor_faster_than_its_rate(rate: float, changes: list[tuple[str, int]]) -> None:
    clock = begun(rate=rate, t=0.0)
    t, shown = 0.0, SEVEN_PM
    for name, wait in changes:
        later = round(t + wait / 1e6, 6)
        now = clock.session_s(later)
        assert now is not None
        assert shown <= now <= shown + (later - t) * rate + 1e-6
        getattr(clock, name)(later)
        assert clock.session_s(later) == now
        t, shown = later, now
