"""Trains that do not come where they should be: by the booked running, by the session clock, and until they are seen."""

from __future__ import annotations

import pytest

from ..conftest import Session, line

HEAD = "working,kind,engine,station,road,arrive,depart,rake\n"
TIMED = HEAD + "g1,goods,e1,ash,main,,19:02,w1 v1\ng1,goods,e1,birch,main,19:06,,\n"
ORDERED = HEAD + "g1,goods,e1,ash,main,,,w1 v1\ng1,goods,e1,birch,main,,,\n"
MINUTES = "minutes = { goods = 6, passenger = 4 }\n"


@pytest.mark.parametrize(
    ("timetable", "section", "limits", "session_s"),
    [
        (TIMED, "", {}, 6 * 60),
        (TIMED, MINUTES, {}, 6 * 60),  # the timetable is the booking
        (TIMED, "", {"overdue_factor": 2}, 8 * 60),
        (ORDERED, MINUTES, {}, 9 * 60),
        (ORDERED, "", {}, None),
    ],
)
def test_half_as_long_again_as_is_booked(timetable: str, section: str, limits: dict[str, float], session_s: float) -> None:
    """The session clock runs four times as fast as the host's."""
    s = Session(line(timetable=timetable, section=section, limits=limits), begin="19:02")
    s.goods_leaves().wait(1200.0)
    (departed,) = s.rows("departed")
    found = s.rows("irregularity", kind="overdue")
    assert [round(row["t"] - departed["happened"], 3) for row in found] == ([] if session_s is None else [session_s / 4])
    assert all((row["level"], row["train"], row["cause"]) == ("note", "g1", None) for row in found)


def test_it_is_over_once_the_train_is_seen_to_come_out() -> None:
    s = Session(line(timetable=TIMED), begin="19:02")
    s.goods_leaves().wait(100.0)
    assert [row["kind"] for row in s.open()] == ["overdue"]
    s.on("birch-throat").read("birch-end", "e1", after=0.2)
    assert s.open() == []


def test_it_is_over_where_it_is_told_to_have_come() -> None:
    s = Session(line(timetable=TIMED, detectors=("ash-main", "ash-throat", "ash-end", "birch-end")), begin="19:02")
    s.on("ash-throat").read("ash-end", "e1", "w1").off("ash-main").read("ash-end", "v1").off("ash-throat").wait(100.0)
    (row,) = s.open()
    assert row["kind"] == "overdue" and "arrive g1 birch.main" in row["do"]
    s.say("arrive g1 birch.main")
    assert s.open() == []


def test_where_nothing_would_tell_of_its_coming_that_it_is_not_seen_is_no_news() -> None:
    s = Session(line(timetable=TIMED, detectors=("ash-main", "ash-throat", "ash-end")), begin="19:02")
    s.on("ash-throat").read("ash-end", "e1", "w1").off("ash-main").read("ash-end", "v1").off("ash-throat").wait(1200.0)
    assert s.rows("departed") and s.rows("irregularity") == []


def test_a_stopped_clock_stops_it() -> None:
    s = Session(line(timetable=TIMED), begin="19:02")
    s.goods_leaves().wait(20.0)
    s.say("stop-clock")
    s.wait(600.0)
    s.say("go-on")
    s.wait(60.0)
    assert s.open() == []
    s.wait(30.0)
    assert [row["kind"] for row in s.open()] == ["overdue"]


def test_who_has_come_back_is_not_overdue() -> None:
    s = Session(line(timetable=TIMED), begin="19:02")
    s.goods_leaves().wait(100.0)
    assert s.open("overdue")
    s.on("ash-throat").read("ash-end", "v1", "w1", "e1").on("ash-main").off("line").off("ash-throat").wait(3.0)
    assert s.open() == []


def test_one_in_no_timetable_is_expected_nowhere() -> None:
    s = Session(line(timetable=HEAD), begin="19:02")
    s.goods_leaves().wait(1200.0)
    assert s.rows("departed") and s.rows("irregularity") == []


def test_who_is_told_of_is_not_overdue() -> None:
    """Its authority given back, an operator has seen it come through."""
    s = Session(line(timetable=TIMED), begin="19:02").goods_leaves()
    s.say("return ash-birch g1")
    s.wait(1200.0)
    assert s.rows("departed") and s.rows("irregularity", kind="overdue") == []
