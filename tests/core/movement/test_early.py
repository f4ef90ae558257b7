"""Departures too early: by the clock, and before the trains for which a train is booked to wait."""

from __future__ import annotations

import pytest

from tests.recordings.said import all_said
from tests.recordings.scene import Scene
from tests.recordings.scenes import heron

from ..authority_steps import r3_out
from ..conftest import STANDING, Session, line

HEAD = "working,kind,engine,station,road,arrive,depart,rake,wait_for\n"
G1 = "g1,goods,e1,ash,main,,{depart},w1 v1,{wait}\ng1,goods,e1,birch,main,19:06,,,\n"
R3 = "r3,goods,e3,birch,loop,,19:01,,\nr3,goods,e3,ash,loop,19:04,,,\n"


def evening(depart: str = "", wait: str = "", begin: str = "19:00", **how: object) -> Session:
    standing = STANDING.replace("e2,ash.loop,1\n", "")
    timetable = HEAD + G1.format(depart=depart, wait=wait) + R3
    return Session(line(timetable=timetable, whereabouts=standing, **how), begin=begin)  # type: ignore[arg-type]


def r3_comes_to_ash(s: Session) -> None:
    s.on("ash-throat", after=5.0).read("ash-end", "e3", after=0.2).off("line").on("ash-loop").off("ash-throat")
    s.wait(3.0)


@pytest.mark.parametrize(
    ("begin", "limits", "is_early"),
    [
        ("19:00:00", {}, True),  # out at 19:00:17 or so
        ("19:00:40", {}, True),
        ("19:00:47", {}, False),
        ("19:02:30", {}, False),
        ("19:00:40", {"early_by": 90}, False),
        ("19:01:40", {"early_by": 0}, True),
        ("19:01:50", {"early_by": 0}, False),
    ],
)
def test_a_minute_before_its_time_is_too_early_and_less_is_not(begin: str, limits: dict[str, float], is_early: bool) -> None:
    s = evening(depart="19:02", begin=begin, limits=limits)
    s.goods_leaves()
    (departed,) = s.rows("departed", train="g1")
    found = s.open("early-departure")
    assert bool(found) is is_early, departed["late"]
    if is_early:
        assert (found[0]["level"], found[0]["train"], found[0]["cause"]) == ("caution", "g1", None)
        assert found[0]["happened"] == departed["happened"]


def test_it_counts_when_it_went_out_and_not_when_that_was_sure() -> None:
    """Its brake van stands at Ash as far as anybody knows, until 20 s after the last sign of the train."""
    s = evening(depart="19:02", begin="19:00:40")
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    assert s.rows("irregularity") == []
    s.say("depart g1", after=12.0)
    s.wait(1.0)
    assert [row["train"] for row in s.open("early-departure")] == ["g1"]


@pytest.mark.parametrize("r3", ["has not begun", "is on its way", "has come"])
def test_whom_it_is_to_wait_for(r3: str) -> None:
    s = evening(wait="r3")
    if r3 != "has not begun":
        r3_out(s)
    if r3 == "has come":
        r3_comes_to_ash(s)
    s.goods_leaves()
    found = s.open("early-departure")
    assert bool(found) is (r3 != "has come")
    clash = s.open("section-clash")
    if r3 == "is on its way":
        assert found[0]["cause"] == clash[0]["id"]
        assert {row["kind"] for row in s.open() if row["cause"] == clash[0]["id"]} == {"early-departure", "no-authority"}
    elif found:
        assert (found[0]["cause"], clash) == (None, [])
        assert "before r3 has come in" in found[0]["text"]


def test_who_is_cancelled_is_waited_for_no_more() -> None:
    s = evening(wait="r3")
    s.say("cancel r3")
    s.goods_leaves()
    assert s.open() == []


def test_a_departure_that_was_none_was_not_too_early() -> None:
    s = evening(depart="19:30")
    s.goods_leaves().wait(3.0)
    (found,) = s.open("early-departure")
    s.on("ash-throat").read("ash-end", "v1", "w1", "e1").on("ash-main").off("line").off("ash-throat").wait(3.0)
    assert s.open() == []
    assert found["n"] in [row["of"] for row in s.rows("corrected")]


def test_it_is_past_once_the_working_has_ended() -> None:
    s = evening(depart="19:30")
    s.goods_leaves().goods_comes().wait(5.0)
    assert s.state.roster.trains["g1"].phase == "ended"
    assert [row["status"] for row in s.rows("irregularity", kind="early-departure")] == ["open", "ended"]


def test_where_reports_are_missing_that_could_have_told_of_its_coming_the_evidence_is_weak() -> None:
    """All that Lockside's board says as u1 comes in is lost, and never sent again."""
    s = heron.passenger_leaves_basin(heron.goods_ready_at_lock(Scene("", folder="canal", begin="09:01")))
    s.report("lock-basin-at-lock", f"tag={s.railway.stock['e2'].tags[0]}", 20.0, lost=True)
    s.report("lock-platform", "on", lost=True).report("lock-basin-line", "off", lost=True).wait(20.0)
    rows = all_said(heron.goods_leaves_lock(s, after=40.0).wait(2.0).text())
    (found,) = [row for row in rows if row.get("kind") == "early-departure"]
    assert found["because"] == ["lock"]
    assert found["text"].endswith("Evidence weak.")
