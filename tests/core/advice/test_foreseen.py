"""Early warnings: trains that will meet in a section, and trains that wait for each other. Common practice, no source."""

from __future__ import annotations

import pytest

from tests.recordings.said import all_said
from tests.recordings.scenes.loops import shut_in, will_meet

from ..authority_steps import lift_at_birch, r3_out
from ..conftest import ENDS, RESTS, STANDING, STOCK, TOKEN, TRACKS, Session, line

WAITS = "working,kind,engine,station,road,arrive,depart,rake,wait_for\n"
LATE = """r3,goods,e3,birch,loop,,19:05,,
r3,goods,e3,ash,loop,19:09,,,
g1,goods,e1,ash,main,,19:12,w1 v1,{wait}
g1,goods,e1,birch,main,19:16,,,
"""
TWO = "vehicle,road,order\nv1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\ne3,birch.loop,1\n"


def evening(begin: str, wait: str = "", **how: object) -> Session:
    """r3 is to come to Ash before g1 leaves against it, and stands at Birch."""
    timetable = WAITS + LATE.format(wait=wait)
    return Session(line(timetable=timetable, whereabouts=TWO, **how), begin=begin)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("begin", "is_foreseen"),
    [("19:05", False), ("19:08", False), ("19:09:30", True), ("19:11", True)],  # r3 takes 4 minutes, from now on
)
def test_who_is_not_clear_a_minute_after_the_others_time_is_met(begin: str, is_foreseen: bool) -> None:
    s = evening(begin)
    s.wait(1.0)
    found = s.open("clash-ahead")
    assert bool(found) is is_foreseen
    if found:
        assert (found[0]["section"], found[0]["trains"], found[0]["level"]) == ("ash-birch", ["g1", "r3"], "caution")


def test_whoever_is_booked_to_wait_is_not_warned_of_it() -> None:
    s = evening("19:11", wait="r3")
    s.wait(30.0)
    assert s.open("clash-ahead") == []


def test_where_the_other_has_the_token_nobody_can_meet_it() -> None:
    s = evening("19:11", rule="token", detectors=(*TRACKS, *ENDS, *RESTS))
    s.wait(1.0)
    assert s.open("clash-ahead")
    s.off("ash-rest").see("birch-rest", f"tag={TOKEN}", 2.0)
    lift_at_birch(s)
    r3_out(s)
    assert s.open("clash-ahead") == []


def test_it_is_over_once_the_other_is_in_or_runs_no_more() -> None:
    s = evening("19:11")
    s.wait(1.0)
    s.say("cancel r3")
    assert s.open("clash-ahead") == []


def test_it_is_told_how_much_time_is_left_and_that_who_is_on_the_line_cannot_be_held() -> None:
    rows = [row for row in all_said(will_meet().text()) if row.get("kind") == "clash-ahead"]
    assert "is clear at 19:14; p1 is to leave Fernlow in 3 minutes, at 19:12." in rows[0]["text"]
    assert "or let it go first" in rows[0]["do"]
    s = evening("19:09:30")
    r3_out(s)
    (found,) = s.open("clash-ahead")
    assert "or let it go first" not in found["do"]


FULL = STANDING.replace("v1,ash.main,1\n", "").replace("w1,ash.main,2\n", "").replace("e1,ash.main,3\n", "")
CIRCLE = """p2,passenger,e2,ash,loop,,19:02:00,,
p2,passenger,e2,birch,loop,19:02:20,,,
r3,goods,e3,birch,loop,,19:02:40,,
r3,goods,e3,ash,loop,19:24,,,
"""


def full_birch(dock: str = "w3,birch.dock,1\n", length: int = 1950) -> Session:
    """p2 is to go to Birch, where r3 waits for it, as long as the road, and w4 takes up the other."""
    stock = STOCK.replace("e3,engine,150", f"e3,engine,{length}").replace("w4,wagon,100", "w4,wagon,1950")
    standing = FULL.replace("w3,birch.dock,1\n", dock) + "w4,birch.main,1\n"
    railway = line(stock=stock, whereabouts=standing, timetable=WAITS + CIRCLE)
    return Session(railway, begin="19:01").wait(30.0)


def test_two_that_wait_for_each_other_and_the_way_out_by_another_order() -> None:
    s = full_birch()
    (found,) = s.open("deadlock")
    assert (found["trains"], found["level"]) == (["p2", "r3"], "caution")
    assert found["do"].startswith("Let r3 go before p2, against the booked order")
    s.say("cancel r3")
    assert s.open("deadlock") == []


def test_nobody_is_shut_in_where_there_is_room_beside_the_other() -> None:
    assert full_birch(length=150).open("deadlock") == []


def test_the_way_out_by_another_road_comes_first() -> None:
    """e3, 250 mm long, is shut in where the loop is taken up by w1, and the dock is free."""
    stock = STOCK.replace("e3,engine,150", "e3,engine,250").replace("w4,wagon,100", "w4,wagon,1950")
    stock = stock.replace("w1,wagon,100", "w1,wagon,1700")
    standing = FULL.replace("w3,birch.dock,1\n", "") + "w4,birch.main,1\nw1,birch.loop,2\n"
    s = Session(line(stock=stock, whereabouts=standing, timetable=WAITS + CIRCLE), begin="19:01").wait(30.0)
    (found,) = s.open("deadlock")
    assert found["do"] == "Move r3 to birch.dock, so that p2 can come in."


def test_a_circle_is_told_only_once_the_time_of_each_has_come() -> None:
    s = full_birch()
    told = s.rows("irregularity", kind="deadlock")
    assert [row["clock"] for row in told] == ["19:02:40"]


def test_who_is_under_way_to_a_full_station_is_to_set_back() -> None:
    rows = [row for row in all_said(shut_in().text()) if row.get("kind") == "deadlock"]
    assert rows[0]["do"] == "Set p1 back to Fernlow, whence it came, once its road there is free."
    assert [row["status"] for row in rows] == ["open", "ended"]
