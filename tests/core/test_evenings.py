"""What evenings bring: an engine changed, a working that does not run, vehicles taken off and put on, a week's pause."""

from __future__ import annotations

import pytest

from bridge.core.view import view
from bridge.wire.records import HostStarted, HostStopped

from .conftest import TRACKS, Session, line

TIMETABLE = """working,kind,engine,station,road,arrive,depart,rake,wait_for
g1,goods,e1,ash,main,,19:02,w1 v1,
g1,goods,e1,birch,main,19:06,19:20,,
g1,goods,e1,ash,main,19:24,,,
p2,passenger,e2,ash,loop,,19:05,,{waits}
p2,passenger,e2,birch,dock,19:14,,,
"""
MOVES = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"
WEEK_S = 7 * 86400.0


def evening(waits: str = "", moves: str = "vehicle,from,to,working,call\n") -> Session:
    return Session(line(timetable=TIMETABLE.format(waits=waits), moves=moves))


def at_birch(session: Session) -> Session:
    """g1 has come to Birch with its rake, e1 at the far end of it."""
    return session.goods_leaves().goods_comes().wait(20.0)


def back_behind_e3(session: Session) -> None:
    """e3 goes on to what g1 brought, takes it and leaves e1 where it stands."""
    session.on("birch-throat").off("birch-loop").wait(5.0).off("birch-throat").wait(40.0)
    session.on("birch-throat", "line").read("birch-end", "e3", "v1", "w1").off("birch-throat").wait(30.0)


def dangers(session: Session) -> list[str]:
    return [row["kind"] for row in session.rows("irregularity") if row["level"] == "danger"]


@pytest.mark.parametrize(("told", "train"), [(True, "g1"), (False, "e3")])
def test_an_engine_changed_takes_what_the_other_brought_told_or_not(told: bool, train: str) -> None:
    s = at_birch(evening())
    if told:
        assert s.say("engine g1 e3") == "g1 is worked by e3."
    back_behind_e3(s)
    assert [row["train"] for row in s.rows("departed", station="birch")] == [train]
    assert not dangers(s)
    where = s.state.where
    assert where is not None
    assert {v: where.leader(v) for v in ("w1", "v1", "e1")} == {"w1": "e3", "v1": "e3", "e1": "e1"}
    assert (where.place("e1"), where.place("w1")) == ("birch.main", "ash-birch")


def test_another_engine_for_a_later_working_leaves_what_the_first_works_now() -> None:
    s = evening()
    assert s.say("engine p2 e1") == "p2 is worked by e1."
    assert (s.state.roster.current("e1") or s.state.roster.trains["p2"]).id == "g1"
    following = s.state.roster.following("e2")
    assert following is None


def test_a_working_cancelled_has_missed_nothing_and_what_it_was_to_do_is_carried_over() -> None:
    s = evening(moves=MOVES)
    s.say("cancel g1")
    s.wait(30.0)
    assert not s.rows("irregularity", kind="lift-missed")
    s.say("end")
    assert s.rows("move", vehicle="w2")[-1]["state"] == "carried-over"


def test_nobody_waits_for_a_working_that_is_cancelled() -> None:
    s = evening(waits="g1")
    s.wait(80.0)  # past its time
    answer = view(s.state)["trains"][1]["may_go"]
    assert answer["answer"] == "wait"
    assert "g1" in answer["why"]
    s.say("cancel g1")
    answer = view(s.state)["trains"][1]["may_go"]
    assert "g1" not in answer["why"]
    s.on("ash-throat", "line").read("ash-end", "e2").off("ash-loop", "ash-throat").wait(25.0)
    assert s.rows("departed", train="p2")
    assert not s.rows("irregularity", kind="early-departure")


def test_what_was_taken_off_the_layout_was_not_missed() -> None:
    s = evening(moves=MOVES)
    s.say("stands w2 off")
    at_birch(s)
    assert s.rows("departed", train="g1")
    assert not s.rows("irregularity", kind="lift-missed")
    assert not s.rows("irregularity", kind="wagon-lost")
    s.say("end")
    assert s.rows("move", vehicle="w2")[-1]["state"] == "carried-over"


def test_a_train_runs_on_without_a_wagon_that_was_taken_off() -> None:
    s = evening()
    s.say("stands w1 off")
    s.on("ash-throat", "line").read("ash-end", "e1").off("ash-main").read("ash-end", "v1").off("ash-throat").wait(20.0)
    s.on("birch-throat").read("birch-end", "e1").on("birch-main").read("birch-end", "v1").off("line", "birch-throat")
    s.wait(60.0)
    assert [row["complete"] for row in s.rows("cleared", train="g1")] == [True]
    assert not [row for row in s.open() if row["kind"] != "road-blocked"]
    assert s.rows("whereabouts", vehicle="w1")[-1]["place"] == "off"


def test_what_is_put_on_the_layout_stands_where_it_was_put() -> None:
    s = evening()
    s.say("stands w4 ash.dock")
    row = s.rows("whereabouts", vehicle="w4")[-1]
    assert (row["place"], row["order"], row["by"]) == ("ash.dock", 2, "told")
    s.wait(60.0)
    assert not s.rows("irregularity", kind="wagon-lost")


def test_a_session_taken_up_a_week_later_goes_on_where_it_was() -> None:
    s = at_birch(evening())
    s.say("stop-clock")
    s.take(HostStopped(s.t))
    s.t += WEEK_S
    s.take(HostStarted(s.t))
    for detector in TRACKS:
        s.see(detector, "on" if detector in ("birch-main", "ash-loop", "birch-loop") else "off", 0.0)
    s.wait(20.0).say("go-on")
    before = len(s.said)
    s.on("birch-throat", "line").read("birch-end", "v1", "w1").off("birch-main").read("birch-end", "e1").off("birch-throat")
    s.wait(30.0)
    assert [row["train"] for row in s.said[before:] if row["says"] == "departed"] == ["g1"]
    assert {row["kind"] for row in s.open()} - {"road-blocked"} == {"early-departure"}
    assert str(view(s.state)["session"]["clock"]).startswith("19:")
