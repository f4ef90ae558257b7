"""Booked roads that are taken: foretold, due, for how long, and what is in nobody's way."""

from __future__ import annotations

import pytest

from bridge.core.movement import blocked

from ..authority_steps import r3_out
from ..believed import Believed
from ..conftest import STANDING, Session, line

ROWS = "vehicle,from,to,working,call\n"
ON_MAIN = STANDING.replace("w3,birch.dock,1", "w3,birch.main,1")
LIFTS = ROWS + "w3,birch.main,ash.dock,{by},\n"
HEAD = "working,kind,engine,station,road,arrive,depart,rake\n"
G1 = "g1,goods,e1,ash,main,,19:02,w1 v1\ng1,goods,e1,birch,main,19:06,,\n"
THERE_AND_BACK = (
    HEAD + "g1,goods,e1,ash,main,,19:02,w1 v1\ng1,goods,e1,birch,main,19:06,19:12,\ng1,goods,e1,ash,main,19:16,,\n"
)
R3 = "r3,goods,e3,birch,{road},,{leaves},\nr3,goods,e3,ash,main,19:24,,\n"


def said(s: Session) -> list[tuple[str, str, str, list[str]]]:
    return [(row["level"], row["train"], row["road"], row["because"]) for row in s.open("road-blocked")]


def test_it_is_foretold_as_a_note_and_a_caution_once_the_train_has_departed() -> None:
    """No engine is at Birch that could take it away."""
    s = Session(line(whereabouts=ON_MAIN.replace("e3,birch.loop,1\n", ""), timetable=HEAD + G1))
    assert said(s) == [("note", "g1", "birch.main", ["w3"])]
    s.goods_leaves()
    assert said(s) == [("caution", "g1", "birch.main", ["w3"])]
    s.goods_comes().wait(5.0)
    assert said(s) == []
    rows = s.rows("irregularity", kind="road-blocked")
    assert [(row["id"], row["status"]) for row in rows] == [("i1", "open"), ("i1", "open"), ("i1", "ended")]


@pytest.mark.parametrize("by", ["g1", "", "r3"])
def test_what_it_lifts_there_and_what_is_booked_away_before_is_not_in_its_way(by: str) -> None:
    timetable = THERE_AND_BACK + R3.format(road="loop", leaves="19:05")
    s = Session(line(whereabouts=ON_MAIN, timetable=timetable, moves=LIFTS.format(by=by)))
    assert said(s) == []


def test_what_is_booked_away_too_late_is() -> None:
    timetable = THERE_AND_BACK + R3.format(road="loop", leaves="19:20")
    s = Session(line(whereabouts=ON_MAIN, timetable=timetable, moves=LIFTS.format(by="r3")))
    assert said(s)[0] == ("note", "g1", "birch.main", ["w3"])


@pytest.mark.parametrize(("leaves", "is_in_the_way"), [("19:05", False), ("19:20", True), ("", False)])
def test_a_train_that_is_to_leave_before(leaves: str, is_in_the_way: bool) -> None:
    standing = STANDING.replace("e3,birch.loop,1", "e3,birch.main,1")
    s = Session(line(whereabouts=standing, timetable=HEAD + G1 + R3.format(road="main", leaves=leaves)))
    s.goods_leaves().wait(61.0)  # it is late, if it is to leave: that it stands there still is no news
    assert said(s) == ([("caution", "g1", "birch.main", ["e3"])] if is_in_the_way else [])


def test_where_an_engine_could_take_it_away_it_has_to_stand_for_a_minute() -> None:
    s = Session(line())
    s.goods_leaves()
    s.say("stands w3 birch.main")
    put_t = s.t
    assert said(s) == []
    s.wait(59.0)
    assert said(s) == []
    s.wait(2.0)
    assert said(s) == [("caution", "g1", "birch.main", ["w3"])]
    assert s.open()[0]["t"] == pytest.approx(put_t + 60.0)
    s.say("stands w3 birch.dock")
    assert said(s) == []


def test_a_second_time_is_another_item() -> None:
    s = Session(line())
    s.goods_leaves()
    for _ in range(2):
        s.say("stands w3 birch.main")
        s.wait(62.0)
        s.say("stands w3 birch.dock")
    ids = [row["id"] for row in s.rows("irregularity", kind="road-blocked", status="open")]
    assert len(ids) == len(set(ids)) == 2


def test_nothing_is_said_before_the_train_is_on_its_way() -> None:
    s = Session(line())
    s.say("stands w3 birch.main")
    s.wait(120.0)
    assert said(s) == []
    s.goods_leaves()
    assert said(s) == [("caution", "g1", "birch.main", ["w3"])]


def test_what_hangs_out_of_a_siding_beside_it_is_in_its_way() -> None:
    """350 mm on the 300 mm of Ash's dock: they hang out into the throat by which r3 is to come in."""
    s = Session(line(whereabouts=STANDING.replace("v1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\n", "")))
    s.say("stands w4 ash.dock")
    s.say("stands c1 ash.dock")
    s.wait(62.0)
    r3_out(s)
    found = [row for row in s.open("road-blocked") if row["train"] == "r3"]
    assert [(row["level"], row["road"]) for row in found] == [("caution", "ash.loop")]
    assert {"w2", "w4", "c1"} & set(found[0]["because"])


def test_what_a_throats_detector_alone_tells_of_is_said_after_a_minute() -> None:
    s = Session(line(whereabouts=STANDING.replace("e3,birch.loop,1\n", ""), timetable=HEAD + G1))
    s.on("birch-throat", after=5.0).goods_leaves()
    assert said(s) == []
    s.wait(60.0)
    (row,) = s.open("road-blocked")
    assert (row["because"], row["text"][:31]) == (["birch-throat"], "Something stands in birch.up, b")
    s.off("birch-throat").wait(2.0)
    assert s.open() == []


def test_a_departure_that_was_none_leaves_the_note() -> None:
    s = Session(line(whereabouts=ON_MAIN.replace("e3,birch.loop,1\n", ""), timetable=HEAD + G1))
    s.goods_leaves()
    assert said(s)[0][0] == "caution"
    s.on("ash-throat").read("ash-end", "v1", "w1", "e1").on("ash-main").off("line").off("ash-throat").wait(3.0)
    assert said(s) == [("note", "g1", "birch.main", ["w3"])]


@pytest.mark.parametrize(("begin", "waits_s"), [("18:45", 75.0), ("19:01", 61.0)])
def test_before_its_first_call_it_is_due_ten_minutes_before(begin: str, waits_s: float) -> None:
    """Ten session minutes before 19:00 + 10, at four to one; its engine is elsewhere at Ash."""
    timetable = HEAD + "p2,passenger,e2,ash,loop,,19:10,c1\np2,passenger,e2,birch,loop,19:14,,\n"
    standing = STANDING.replace("e2,ash.loop,1", "w4,ash.loop,1\ne2,birch.dock,2").replace("e3,birch.loop,1\n", "")
    s = Session(line(whereabouts=standing, timetable=timetable), begin=begin)
    assert ("note", "p2", "ash.loop", ["w4"]) in said(s)
    s.wait(waits_s * 4)
    assert ("caution", "p2", "ash.loop", ["w4"]) in said(s)


@pytest.mark.parametrize(("since_s", "by", "is_said"), [(1.0, "order", False), (1.0, "seen", True), (-1.0, "order", True)])
def test_what_has_come_there_since_and_was_not_seen_may_be_the_train_itself(since_s: float, by: str, is_said: bool) -> None:
    """w3 is held to be on the road where g1 is booked, since so long after that went out."""
    s = Session(line(whereabouts=STANDING.replace("e3,birch.loop,1\n", "")))
    s.goods_leaves()
    (presence,) = s.state.presences["ash-birch"]
    weighing, state = s.state.where, s.state
    assert weighing is not None
    state.where = Believed(  # type: ignore[assignment]
        {"e1": {"ash-birch": 1.0}, "w3": {"birch.main": 1.0}}, by={"w3": by}, stood={"w3": presence.out_t + since_s}
    )
    blocked.stir(state, "birch.main")
    blocked.after(state)
    assert [one.level for one in state.blocked.values() if one.cause] == (["caution"] if is_said else [])


def test_it_is_no_caution_before_the_train_has_surely_gone() -> None:
    s = Session(line(whereabouts=ON_MAIN.replace("e3,birch.loop,1\n", ""), timetable=HEAD + G1))
    s.goods_leaves()
    (one,) = s.state.blocked.values()
    train = s.state.roster.trains["g1"]
    levels = []
    for is_gone in (False, True):
        train.is_gone = is_gone
        blocked.moved(s.state, "e1")
        blocked.after(s.state)
        levels.append(one.level)
    assert levels == ["note", "caution"]
