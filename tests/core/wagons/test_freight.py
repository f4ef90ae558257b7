"""Freight moves: lifted, put back, set out, missed at the last call alone, carried over; and what one mistake raises."""

from __future__ import annotations

from typing import Any

import pytest

from ..conftest import DOCKS, ENDS, TIMETABLE, TRACKS, Session, line

HEAD = "vehicle,from,to,working,call\n"
LIFT = HEAD + "w2,ash.dock,birch.dock,g1,\n"
SET_OUT = HEAD + "w1,ash.main,birch.dock,g1,\n"
BOTH_WAYS = """working,kind,engine,station,road,arrive,depart,rake
g1,goods,e1,ash,main,,19:02,w1 v1
g1,goods,e1,birch,main,,,
g1,goods,e1,ash,loop,,,
"""
ROUND = BOTH_WAYS + "g1,goods,e1,birch,loop,,,\n"


def moves(s: Session, vehicle: str) -> list[str]:
    """The states that a vehicle's move went through."""
    return [row["state"] for row in s.rows("move", vehicle=vehicle)]


def lift_w2(s: Session) -> None:
    """e1 goes into Ash's dock, draws w2 out and sets back on to its train."""
    s.on("ash-throat", after=2.0).read("ash-dock-reader", "e1").wait(3.0).read("ash-dock-reader", "e1", "w2")
    s.off("ash-throat", after=4.0).wait(4.0)


def leave_with(s: Session, *rake: str) -> None:
    """g1 goes out of Ash."""
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", rake[0], after=0.2).read("ash-end", *rake[1:-1])
    s.off("ash-main", after=0.2).read("ash-end", rake[-1]).off("ash-throat").wait(3.0)


def come_with(s: Session, *rake: str) -> None:
    """g1 comes in at Birch on the main road."""
    s.on("birch-throat", after=8.0).read("birch-end", rake[0], after=0.2).read("birch-end", *rake[1:-1])
    s.on("birch-main", after=0.3).read("birch-end", rake[-1]).off("line", "birch-throat").wait(30.0)


def go_back_with(s: Session, *rake: str) -> None:
    """g1 goes out of Birch."""
    s.on("birch-throat", after=2.0).on("line", after=2.0).read("birch-end", rake[0], after=0.2)
    s.read("birch-end", *rake[1:-1]).off("birch-main", after=0.2).read("birch-end", rake[-1]).off("birch-throat").wait(3.0)


def set_out_in_dock(s: Session, wagon: str) -> None:
    """At Birch e1 draws out into the neck, pushes a wagon into the dock, and comes back without it."""
    s.on("birch-neck", after=3.0).read("birch-dock-reader", wagon, after=2.0).off("birch-neck", after=4.0).wait(4.0)


def test_as_the_session_begins_each_row_is_booked_or_in_its_train() -> None:
    s = Session(line(moves=LIFT + "w1,ash.main,birch.dock,g1,\n"))
    assert [(row["vehicle"], row["train"], row["state"]) for row in s.rows("move")] == [
        ("w2", "g1", "booked"),
        ("w1", "g1", "in-train"),
    ]
    assert s.rows("lifted") == []


def test_lifted_once_it_goes_with_the_engine() -> None:
    s = Session(line(moves=LIFT))
    lift_w2(s)
    (row,) = s.rows("lifted")
    assert (row["vehicle"], row["road"], row["train"], row["booked"]) == ("w2", "ash.dock", "g1", True)
    assert row["evidence"]
    assert moves(s, "w2") == ["booked", "in-train"]


def test_drawn_out_and_put_back_it_was_never_lifted() -> None:
    s = Session(line(moves=LIFT))
    s.on("ash-throat", after=2.0).read("ash-dock-reader", "e1").wait(3.0).read("ash-dock-reader", "e1", "w2")
    s.wait(3.0).read("ash-dock-reader", "w2").off("ash-throat", after=4.0).wait(4.0)
    assert [row for row in s.standing() if row["says"] in ("lifted", "set-out")] == []
    assert moves(s, "w2") == ["booked", "in-train", "booked"]


def test_set_out_once_the_engine_is_elsewhere_without_it() -> None:
    s = Session(line(moves=SET_OUT))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    set_out_in_dock(s, "w1")
    (row,) = s.rows("set-out")
    assert (row["vehicle"], row["road"], row["train"], row["booked"]) == ("w1", "birch.dock", "g1", True)
    assert moves(s, "w1") == ["in-train", "done"]
    assert s.rows("whereabouts", vehicle="w1")[-1]["place"] == "birch.dock"
    assert s.open() == []


def test_left_where_it_is_not_booked_to_stay_it_is_set_out_all_the_same() -> None:
    s = Session(line(moves=SET_OUT, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    set_out_in_dock(s, "v1")
    (row,) = s.rows("set-out")
    assert (row["vehicle"], row["road"], row["booked"]) == ("v1", "birch.dock", False)


def test_drawn_out_again_it_was_not_set_out() -> None:
    s = Session(line(moves=SET_OUT, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    set_out_in_dock(s, "v1")
    s.on("birch-neck", after=4.0).read("birch-dock-reader", "v1").off("birch-neck", after=3.0).wait(10.0)
    assert [row for row in s.standing() if row["says"] == "set-out"] == []


def test_a_lift_is_missed_at_departure() -> None:
    s = Session(line(moves=LIFT))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    (missed,) = s.open()
    assert (missed["kind"], missed["train"], missed["vehicle"], missed["road"]) == ("lift-missed", "g1", "w2", "ash.dock")
    assert moves(s, "w2") == ["booked", "failed"]
    (left,) = s.rows("departed")
    assert missed["happened"] == left["happened"]
    assert missed["evidence"]


@pytest.mark.parametrize(
    ("call", "missed"),
    [("", []), ("1", ["lift-missed"]), ("2", [])],
    ids=["either call will do", "the first was named", "the second was named"],
)
def test_a_lift_is_missed_at_the_last_call_alone(call: str, missed: list[str]) -> None:
    """A missed move is none until the last call that could do it: common practice, no source."""
    s = Session(line(moves=HEAD + f"w2,ash.dock,birch.dock,g1,{call}\n", timetable=ROUND))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    assert [row["train"] for row in s.rows("departed")] == ["g1"]
    assert [row["kind"] for row in s.open() if row["kind"] != "road-blocked"] == missed  # e2 and e3 stand on its later roads


def test_a_set_out_is_forgotten_where_the_vehicle_is_seen_to_go() -> None:
    s = Session(line(moves=SET_OUT, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    go_back_with(s, "v1", "w1", "e1")
    s.wait(25.0)
    (forgotten,) = [row for row in s.open() if row["kind"] != "road-blocked"]
    assert (forgotten["kind"], forgotten["vehicle"], forgotten["road"]) == ("set-out-forgotten", "w1", "birch.dock")
    assert moves(s, "w1")[-1] == "failed"


def test_what_a_departure_showed_is_taken_back_where_it_was_none() -> None:
    s = Session(line(moves=LIFT))
    leave_with(s, "e1", "w1", "v1")
    s.say("depart g1")
    (missed,) = s.open("lift-missed")
    s.on("ash-throat").read("ash-end", "v1", "w1").on("ash-main").read("ash-end", "e1").off("line", "ash-throat")
    s.wait(20.0)
    assert s.open() == []
    assert missed["n"] in {row["of"] for row in s.rows("corrected")}
    assert moves(s, "w2") == ["booked", "failed", "booked"]


def test_an_unbooked_lift_shows_at_departure_and_is_taken_back_where_that_was_none() -> None:
    s = Session(line())
    lift_w2(s)
    leave_with(s, "e1", "w2", "w1", "v1")
    s.say("depart g1")
    (row,) = s.rows("lifted")
    assert (row["vehicle"], row["road"], row["train"], row["booked"]) == ("w2", "ash.dock", "g1", False)
    s.on("ash-throat").read("ash-end", "v1", "w1", "w2").on("ash-main").read("ash-end", "e1").off("line", "ash-throat")
    s.wait(20.0)
    assert [row for row in s.standing() if row["says"] in ("lifted", "departed")] == []


def test_what_is_not_done_at_the_end_is_carried_over() -> None:
    s = Session(line(moves=LIFT + "w1,ash.main,birch.dock,g1,\n"))
    lift_w2(s)
    s.say("end")
    assert moves(s, "w2") == ["booked", "in-train", "carried-over"]
    assert moves(s, "w1") == ["in-train", "carried-over"]


def test_what_is_done_is_not_carried_over() -> None:
    s = Session(line(moves=LIFT))
    s.say("sets-out g1 w2 birch.dock")
    s.say("end")
    assert moves(s, "w2")[-1] == "done"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("sets-out g1 w1 birch.dock", [("w1", "birch.dock", True)]),
        ("sets-out g1 w1 birch.main", [("w1", "birch.main", False)]),
        ("sets-out g1 v1 birch.dock", [("v1", "birch.dock", False)]),
    ],
)
def test_what_an_operator_saw_set_out_is(words: str, said: list[tuple[Any, ...]]) -> None:
    s = Session(line(moves=SET_OUT, timetable=BOTH_WAYS, detectors=(*TRACKS, *ENDS, *DOCKS)))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    s.say(words)
    assert [(row["vehicle"], row["road"], row["booked"]) for row in s.rows("set-out")] == said
    assert all(row["sure"] == 1.0 for row in s.rows("set-out"))


def test_one_mistake_is_raised_once() -> None:
    """Set out in the wrong place, it was forgotten in the right one: only the first cause stands."""
    s = Session(line(moves=HEAD + "w1,ash.main,birch.loop,g1,\n", timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    s.say("sets-out g1 w1 birch.dock")
    go_back_with(s, "v1", "e1")
    s.wait(25.0)
    found = [(row["kind"], row["vehicle"], row["road"]) for row in s.open() if row["kind"] != "road-blocked"]
    assert found == [("wagon-misplaced", "w1", "birch.dock")]


def test_a_lift_is_missed_at_the_last_call_from_which_the_wagon_could_be_taken_on() -> None:
    """g1 comes back to Ash at the end, but goes nowhere from there."""
    s = Session(line(moves=LIFT, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    assert moves(s, "w2") == ["booked", "failed"]
    assert [row["vehicle"] for row in s.rows("irregularity", kind="lift-missed", status="open")] == ["w2"]


def test_where_it_comes_back_and_goes_again_nothing_is_missed_yet() -> None:
    s = Session(line(moves=LIFT, timetable=ROUND))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    assert moves(s, "w2") == ["booked"]


def test_what_a_goods_leaves_behind_of_a_row_that_names_no_working_waits_for_no_passenger_train() -> None:
    """p2, a passenger train, passes both later, and r3 comes the other way."""
    s = Session(line(moves=LIFT.replace("g1", "")))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    assert [(row["vehicle"], row["train"]) for row in s.rows("irregularity", kind="lift-missed")][:1] == [("w2", "g1")]


def test_a_row_that_names_no_working_waits_for_the_next_goods() -> None:
    also = TIMETABLE.replace("p2,passenger", "p2,goods")
    s = Session(line(moves=LIFT.replace("g1", ""), timetable=also))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    assert moves(s, "w2") == ["booked"]


def test_a_row_that_names_no_working_is_in_its_train_where_the_wagon_is_of_the_rake() -> None:
    s = Session(line(moves=SET_OUT.replace("g1", "")))
    assert [(row["vehicle"], row["train"], row["state"]) for row in s.rows("move")] == [("w1", "g1", "in-train")]


def test_what_was_not_read_as_its_train_left_and_is_read_further_on_was_forgotten() -> None:
    s = Session(line(moves=HEAD + "w1,ash.main,ash.loop,g1,\n"))
    leave_with(s, "e1", "v1")
    assert s.rows("irregularity") == []
    come_with(s, "e1", "w1", "v1")
    (row,) = s.rows("irregularity", status="open")
    assert (row["kind"], row["vehicle"], row["road"]) == ("set-out-forgotten", "w1", "ash.loop")
    assert moves(s, "w1")[-1] == "failed"


def test_any_working_that_passes_both_may_do_a_row_that_names_none() -> None:
    s = Session(line(moves=LIFT.replace("g1", "")))
    s.say("lifts p2 w2")
    (row,) = s.rows("lifted")
    assert (row["vehicle"], row["train"], row["booked"]) == ("w2", "p2", True)
