"""Detectors that say what cannot be, and what may well be."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ..conftest import DOCKS, ENDS, RESTS, TOKEN, TRACKS, Session
from .test_silent import ALONE, HOME, HOME_AND_OUT, OUT, Line, line, runs

Make = Callable[..., Session]
KIND = "detector-contradicted"
ALL = (*TRACKS, *ENDS, *DOCKS)
TAG = f"tag={TOKEN}"


def on_line(*more: str, **how: str) -> Line:
    s = Line(line(detectors=(*ALL, *more), timetable=HOME_AND_OUT, whereabouts=ALONE, **how), begin=None)
    s.off(*more, after=0.0)
    s.wait(20.0).say("begin 19:01")
    return s


# -- points --------------------------------------------------------------------------------------------------------------


def test_points_that_lie_otherwise_than_two_trains_have_come_in() -> None:
    """g1 comes in on Birch's main road, and its points say that they lie for the loop."""
    s = runs(on_line("ash-out", "birch-points"), OUT)
    assert s.open(KIND) == []  # once is no proof
    (row,) = runs(s, HOME, OUT).open(KIND)
    assert (row["detector"], row["level"]) == ("birch-points", "note")
    assert "lie for birch.loop" in row["text"] and "come in on birch.main" in row["text"]
    assert "railway.toml" in row["do"]
    s.on("birch-points")
    assert runs(s, HOME, OUT).open(KIND) == []


def test_points_that_agree_or_were_thrown_just_now_are_not_contradicted() -> None:
    s = on_line("ash-out", "birch-points")
    s.on("birch-points")
    assert runs(s, OUT, HOME, OUT).rows("irregularity", kind=KIND) == []


def test_trains_that_go_out_over_points_set_against_them_tell_nothing() -> None:
    """They run through them: the points lie as they say."""
    s = on_line("ash-out", "birch-points")
    s.on("birch-points")
    runs(s, OUT)
    s.off("birch-points")
    runs(s, HOME)
    s.on("birch-points")
    assert runs(s, OUT).rows("irregularity", kind=KIND) == []


# -- tokens --------------------------------------------------------------------------------------------------------------


def test_a_token_that_lies_on_two_rests_is_doubted_where_it_lay_before(session: Make) -> None:
    s = session(rule="token", detectors=(*ALL, *RESTS))
    s.see("birch-rest", TAG, after=10.0).wait(4.0)
    assert s.open() == []
    (row,) = s.wait(2.0).open()
    assert (row["kind"], row["detector"], row["because"]) == (KIND, "ash-rest", ["birch-rest"])
    s.off("ash-rest").wait(2.0)
    assert s.open() == []


def test_a_rest_that_says_a_moment_later_that_it_has_gone_is_right(session: Make) -> None:
    s = session(rule="token", detectors=(*ALL, *RESTS))
    s.see("birch-rest", TAG, after=10.0).off("ash-rest", after=4.0).wait(20.0)
    assert s.rows("irregularity") == []


# -- treadles ------------------------------------------------------------------------------------------------------------


def passes(s: Session, times: int, after: float = 20.0) -> Session:
    for _ in range(times):
        s.on("ash-out", after=after).off("ash-out", after=0.1)
    return s.wait(4.0)


def test_three_passings_where_all_is_clear_on_both_sides() -> None:
    s = passes(on_line("ash-out"), 2)
    assert s.open() == []
    (row,) = passes(s, 1).open()
    assert (row["kind"], row["detector"]) == (KIND, "ash-out") and "all is clear" in row["text"]
    assert "wire" in row["do"]
    runs(s, OUT)
    assert s.open() == []  # it has told of a train


def test_it_ends_when_it_has_told_of_nothing_for_ten_minutes() -> None:
    s = passes(on_line("ash-out"), 3)
    s.wait(590.0)
    assert len(s.open()) == 1
    s.wait(10.0)
    assert s.open() == []


def test_a_train_in_between_makes_it_begin_anew() -> None:
    s = passes(on_line("ash-out"), 2)
    runs(s, OUT)
    assert passes(s, 2).open(KIND) == []


def test_what_is_felt_a_moment_later_was_a_train() -> None:
    """The treadle stands before the joint of the rails."""
    s = on_line("ash-out")
    for _ in range(4):
        s.on("ash-out", after=20.0).off("ash-out", after=0.1).on("ash-throat", after=0.5).off("ash-throat", after=6.0)
    assert s.open(KIND) == []


@pytest.mark.parametrize("blind", ["line", "ash-throat"])
def test_where_nothing_says_clear_a_passing_may_be_one(blind: str) -> None:
    s = on_line("ash-out")
    s.say(f"mute {blind}")
    assert passes(s, 5).open(KIND) == []


def test_muted_it_is_seen_to() -> None:
    s = passes(on_line("ash-out"), 3)
    s.say("mute ash-out")
    assert s.open() == []
