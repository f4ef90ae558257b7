"""Trains that do not come where they should be: by the booked running, by the session clock, and until they are seen."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.core.movement.overdue import AGAIN_S
from bridge.core.trains import Phase

from ..conftest import TOKEN, Session, line

Tells = Callable[[Session], Session]

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


def goes_out(s: Session, *rake: str) -> Session:
    """A train goes out of Ash, read there; nothing tells of it at Birch."""
    s.on("ash-throat", after=2.0).read("ash-end", *rake[:-1], after=0.4).off("ash-main", after=0.2)
    return s.read("ash-end", rake[-1]).off("ash-throat", after=1.0)


AT_ASH = ("ash-main", "ash-throat", "ash-end")


@pytest.mark.parametrize(("rake", "is_said"), [("w1 v1", True), ("w1", False)])
def test_a_treadle_for_tails_tells_of_a_train_that_has_one(rake: str, is_said: bool) -> None:
    standing = "vehicle,road,order\n" + ("v1,ash.main,1\n" if "v1" in rake else "") + "w1,ash.main,2\ne1,ash.main,3\n"
    railway = line(timetable=TIMED.replace("w1 v1", rake), whereabouts=standing, detectors=(*AT_ASH, "birch-tail"))
    s = goes_out(Session(railway, begin="19:02"), "e1", *rake.split()).wait(300.0)
    assert s.rows("departed", train="g1")
    assert bool(s.open("overdue")) is is_said


@pytest.mark.parametrize(
    ("detector", "tells"),
    [
        ("birch-tail", lambda s: s.on("birch-tail").off("birch-tail", after=0.05)),
        ("birch-main", lambda s: s.on("birch-main")),
        ("birch-rest", lambda s: s.see("birch-rest", f"tag={TOKEN}")),
    ],
    ids=["a treadle for tails", "its booked road", "its token"],
)
def test_it_is_not_said_where_something_there_has_told_that_may_be_the_train(detector: str, tells: Tells) -> None:
    """What tells is held to be something else, or nobody."""
    detectors = (*AT_ASH, "ash-rest", "birch-rest", *(() if detector == "birch-rest" else (detector,)), "birch-end")
    for is_told in (False, True):
        s = Session(line("token", timetable=TIMED, detectors=detectors), begin="19:02")
        s.see("ash-rest", "off")
        goes_out(s, "e1", "w1", "v1").wait(20.0)
        (presence,) = s.state.presences["ash-birch"]
        if is_told:
            tells(s)
            presence.out_at = None  # whoever it was held to be, it was not g1
            s.state.roster.trains["g1"].phase = Phase.IN_SECTION
        s.wait(100.0)
        assert bool(s.rows("irregularity", kind="overdue")) is not is_told


def test_it_is_said_once_the_train_has_surely_gone() -> None:
    s = Session(line(timetable=TIMED), begin="19:02")
    s.goods_leaves().wait(30.0)
    train = s.state.roster.trains["g1"]
    train.is_gone, train.left = False, None
    s.wait(120.0)
    assert s.rows("irregularity") == []
    train.is_gone = True
    s.wait(AGAIN_S / 4 + 1.0)
    assert [row["kind"] for row in s.open()] == ["overdue"]
