"""What rests on the word of a detector that is under doubt is said all the same, and names it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.core.detection import doubtful

from ..conftest import DOCKS, ENDS, TRACKS, Session
from .test_noise import flutter

Make = Callable[..., Session]
ALL = (*TRACKS, *ENDS, *DOCKS)


def test_a_danger_is_told_of_at_once_and_names_the_doubt(session: Make) -> None:
    s = flutter(session().wait(30.0), "line", 22, 0.2)
    s.on("line", after=4.0).wait(0.6)
    (row,) = s.open("unexplained-occupation")
    assert row["level"] == "danger" and row["cause"] is None
    assert row["text"].endswith("Evidence weak: line is under doubt.") and "line" in row["because"]
    assert row["t"] == pytest.approx(s.t - 0.1)


def test_a_danger_that_stands_is_told_again_when_its_detector_comes_under_doubt(session: Make) -> None:
    s = session().wait(30.0).on("line").wait(0.6)
    (row,) = s.open("unexplained-occupation")
    assert "doubt" not in row["text"]
    flutter(s, "line", 22, 0.015)
    s.on("line", after=0.015)
    (again,) = s.open("unexplained-occupation")
    assert again["id"] == row["id"] and "line is under doubt" in again["text"]
    assert [row["kind"] for row in s.open()][:1] == ["unexplained-occupation"]  # the danger came first, and stays


def test_a_proof_that_is_noisy_does_not_prove_and_says_so(session: Make) -> None:
    s = session(detectors=(*ALL, "bridge"), begin=None)
    s.on("bridge").say("begin 19:01")
    flutter(s.wait(20.0).off("bridge"), "bridge", 21, 0.2)
    s.off("bridge", after=0.2).on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    (row,) = s.open("not-proved")
    assert row["level"] == "danger" and "bridge is under doubt" in row["text"] and row["because"] == ["bridge"]


def test_an_overdue_train_may_have_come_where_its_detector_is_doubted(session: Make) -> None:
    s = session(detectors=(*ALL, "birch-points")).see("birch-points", "on")
    flutter(s.wait(20.0), "line", 22, 0.2)
    s.goods_leaves()
    s.wait(120.0)
    (row,) = s.open("overdue")
    assert "doubt" not in row["text"]  # of its coming others tell


def test_only_what_is_not_muted_is_doubted(session: Make) -> None:
    s = flutter(session().wait(30.0), "line", 22, 0.2)
    assert doubtful.doubted(s.state, ("line", "ash-main")) == ("line",)
    assert doubtful.said_by(s.state, "ash-throat") == "clear"
    s.off("line").wait(2.0)
    assert doubtful.said_by(s.state, "line") == "unknown"
    s.say("mute line")
    assert doubtful.doubted(s.state, ("line", "ash-main")) == ()
