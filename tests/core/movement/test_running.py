"""Trains going and coming: out, departed, back from a shunt, arrived, and the section cleared behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from ..conftest import DOCKS, ENDS, TRACKS, Row, Session, line
from ..four_stations import line_of_four

MOVES = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"
NO_LINE = tuple(name for name in TRACKS if name != "line")


def brief(rows: list[Row]) -> list[tuple[Any, ...]]:
    """What was said of trains and sections, bare."""
    told = ("departed", "entered", "arrived", "cleared", "corrected")
    return [(row["says"], row.get("train"), row.get("complete")) for row in rows if row["says"] in told]


def out_with_a_move_to_do(**how: Any) -> Session:
    """g1's engine and w1 go out of Ash; v1 stands in the station, and w2 is still to be lifted there."""
    s = Session(line(moves=MOVES, **how))
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "w1")
    return s


# --- departed, by the first of its ways


def test_it_has_departed_once_it_is_complete_and_nothing_is_left_to_do(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    (row,) = s.rows("departed")
    assert (row["train"], row["station"], row["road"], row["booked_road"]) == ("g1", "ash", "ash.main", "ash.main")
    assert row["happened"] < row["t"]
    assert brief(s.said) == [("departed", "g1", None), ("entered", "g1", None)]


def test_it_has_not_departed_while_a_booked_move_is_outstanding() -> None:
    s = Session(line(moves=MOVES))
    s.goods_leaves()
    assert s.rows("departed") == []


def test_it_has_departed_when_it_is_told() -> None:
    s = Session(line(moves=MOVES))
    s.goods_leaves()
    s.say("depart g1")
    assert [row["train"] for row in s.rows("departed")] == ["g1"]


def test_it_has_departed_when_the_far_end_sees_it() -> None:
    s = Session(line(moves=MOVES))
    s.goods_leaves()
    s.wait(3.0).on("birch-throat").read("birch-end", "e1", after=0.2)
    assert [row["train"] for row in s.rows("departed")] == ["g1"]


@pytest.mark.parametrize(("limits", "seconds"), [(None, 20.0), ({"out_after": 7}, 7.0)])
def test_it_has_departed_after_a_while_without_a_sign(limits: dict[str, float] | None, seconds: float) -> None:
    s = Session(line(moves=MOVES, limits=limits))
    s.goods_leaves()
    last_sign_t = max(row["t"] for row in s.rows("observed", detector="ash-end"))
    s.wait(60.0)
    (row,) = s.rows("departed")
    assert row["t"] == pytest.approx(last_sign_t + seconds)


def test_while_vehicles_of_its_rake_stand_on_the_calls_road_it_only_shunts() -> None:
    s = out_with_a_move_to_do()
    s.wait(90.0)
    assert s.rows("departed") == []
    s.off("ash-main").wait(60.0)  # nothing stands there after all: it went, and the reader missed the last of it
    assert [row["train"] for row in s.rows("departed")] == ["g1"]


# --- a shunt


def test_back_before_that_it_has_neither_departed_nor_entered() -> None:
    s = out_with_a_move_to_do()
    s.wait(5.0).read("ash-end", "w1", "e1").off("line", "ash-throat").wait(30.0)
    assert brief(s.said) == []
    assert [(row["state"], row["why"]) for row in s.rows("authority")] == [("given", "section clear"), ("returned", "shunt")]


def test_it_is_back_when_the_section_says_clear() -> None:
    s = out_with_a_move_to_do()
    s.wait(5.0).off("line").wait(3.0).off("ash-throat").wait(30.0)
    assert [row["why"] for row in s.rows("authority", state="returned")] == ["shunt"]
    assert brief(s.said) == []


def test_back_later_what_was_said_is_corrected(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    s.wait(8.0).on("ash-throat").read("ash-end", "v1", "w1").on("ash-main").read("ash-end", "e1").off("line", "ash-throat")
    s.wait(20.0)
    withdrawn = {row["of"] for row in s.rows("corrected")}
    assert withdrawn == {row["n"] for row in s.said if row["says"] in ("departed", "entered")}
    assert [row["why"] for row in s.rows("authority", state="returned")] == ["shunt"]
    places = {v: s.rows("whereabouts", vehicle=v)[-1]["place"] for v in ("e1", "w1", "v1")}
    assert set(places.values()) == {"ash.main"}


def test_it_may_then_depart_in_earnest(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    s.wait(8.0).on("ash-throat").read("ash-end", "v1", "w1").on("ash-main").read("ash-end", "e1").off("line", "ash-throat")
    s.wait(20.0)
    s.goods_leaves()
    said = [row for row in s.standing() if row["says"] in ("departed", "entered")]
    assert [row["says"] for row in said] == ["departed", "entered"]
    assert s.open() == []


# --- arrived


def test_it_has_arrived_when_its_first_vehicle_is_on_its_road(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    s.goods_comes()
    (row,) = s.rows("arrived")
    assert (row["station"], row["road"], row["booked_road"]) == ("birch", "birch.main", "birch.main")
    (occupied,) = s.rows("observed", detector="birch-main", state="occupied")
    assert row["t"] == occupied["t"]


def test_an_operator_may_tell_that_it_has_arrived() -> None:
    s = Session(line(detectors=ENDS))
    s.read("ash-end", "e1", "w1", "v1").wait(10.0).read("birch-end", "e1", "w1", "v1")
    assert s.rows("arrived") == []
    s.say("arrive g1 birch.main")
    assert [(row["train"], row["road"]) for row in s.rows("arrived")] == [("g1", "birch.main")]


def test_late_is_told_by_the_session_clock_and_null_where_nothing_is_booked(session: Callable[..., Session]) -> None:
    s = session(
        timetable="working,kind,engine,station,road,arrive,depart,rake\n"
        "g1,goods,e1,ash,main,,19:02,w1 v1\ng1,goods,e1,birch,main,,,\n"
    )
    s.wait(20.0)
    s.goods_leaves()
    s.goods_comes()
    (left,), (came,) = s.rows("departed"), s.rows("arrived")
    assert left["late"] == round((left["happened"] - 2.0) * 4 - 60)  # begun at 2 s and 19:01, four minutes to one
    assert came["late"] is None


# --- cleared


def test_cleared_by_the_tag_of_the_last_vehicle() -> None:
    s = Session(line(detectors=(*NO_LINE, *ENDS)))
    s.on("ash-throat", after=2.0).read("ash-end", "e1", "w1", "v1").off("ash-main", "ash-throat")
    s.on("birch-throat", after=9.0).read("birch-end", "e1", "w1").on("birch-main").wait(10.0)
    assert s.rows("cleared") == []
    s.read("birch-end", "v1")
    assert [row["complete"] for row in s.rows("cleared")] == [True]


def test_cleared_by_a_tail_treadle() -> None:
    s = Session(line(detectors=(*NO_LINE, "ash-end", "birch-end", "birch-tail")))
    s.on("ash-throat", after=2.0).read("ash-end", "e1", "w1", "v1").off("ash-main", "ash-throat")
    s.on("birch-throat", after=9.0).read("birch-end", "e1", "w1").wait(2.0)
    assert s.rows("cleared") == []
    s.on("birch-tail")
    assert [row["complete"] for row in s.rows("cleared")] == [True]


def test_cleared_by_all_detectors_of_the_section(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    s.goods_comes(last=False)  # the last vehicle is not read
    (row,) = s.rows("cleared")
    (clear,) = [seen for seen in s.rows("observed", detector="line", state="clear") if seen["t"] > 5.0]
    assert (row["complete"], row["t"]) == (True, clear["t"])
    assert clear["evidence"] == row["evidence"]


def test_not_by_detectors_that_its_last_vehicle_does_not_work(session: Callable[..., Session]) -> None:
    coach = "working,kind,engine,station,road,depart,rake\np1,passenger,e1,ash,main,19:02,c1\np1,passenger,e1,birch,main,,\n"
    s = session(timetable=coach, whereabouts="vehicle,road,order\nc1,ash.main,1\ne1,ash.main,2\n")
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2).off("ash-main")
    s.read("ash-end", "c1").off("ash-throat")
    s.on("birch-throat", after=9.0).read("birch-end", "e1", after=0.2).off("line").wait(10.0)
    assert s.rows("cleared") == []
    s.read("birch-end", "c1")
    assert [row["complete"] for row in s.rows("cleared")] == [True]


@pytest.mark.parametrize(("limits", "seconds"), [(None, 30.0), ({"complete_after": 12}, 12.0)])
def test_without_proof_it_is_cleared_after_a_while_not_complete(limits: dict[str, float] | None, seconds: float) -> None:
    s = Session(line(detectors=(*NO_LINE, *ENDS), limits=limits))
    s.on("ash-throat", after=2.0).read("ash-end", "e1", "w1", "v1").off("ash-main", "ash-throat")
    s.on("birch-throat", after=9.0).read("birch-end", "e1", "w1").on("birch-main").off("birch-throat")
    s.wait(60.0)
    last_sign_t = s.rows("observed", detector="birch-throat", state="clear")[-1]["t"]
    (row,) = s.rows("cleared")
    assert (row["complete"], row["t"]) == (False, pytest.approx(last_sign_t + seconds))
    assert [given["why"] for given in s.rows("authority", state="returned")] == ["train out of section"]


def test_proof_that_comes_later_corrects_it() -> None:
    s = Session(line(detectors=(*TRACKS, *ENDS, *DOCKS)))
    s.say("mute line")
    s.goods_leaves()
    s.goods_comes(last=False).wait(60.0)
    (first,) = s.rows("cleared")
    assert first["complete"] is False
    s.say("unmute line")
    s.wait(3.0)
    assert [row["of"] for row in s.rows("corrected")] == [first["n"]]
    assert [row["complete"] for row in s.standing() if row["says"] == "cleared"] == [True]


def test_while_a_detector_says_occupied_it_is_not_cleared_by_waiting(session: Callable[..., Session]) -> None:
    s = session()
    s.goods_leaves()
    s.on("birch-throat", after=8.0).read("birch-end", "e1", "w1").on("birch-main").off("birch-throat").wait(120.0)
    assert s.rows("cleared") == []


def test_a_stopped_clock_stops_no_deadline_of_real_time() -> None:
    s = Session(line(moves=MOVES))
    s.goods_leaves()
    s.say("stop-clock")
    s.wait(60.0)
    assert [row["train"] for row in s.rows("departed")] == ["g1"]


# --- a station that tells of nothing


def line_that_tells_of_little(*readers: str) -> Session:
    """A train from Ash over Birch to Cedar, with these readers and no other detector."""
    whole = line_of_four("one-train", {"1": ("ash", "birch", "cedar")})
    few = {name: whole.plant.detectors[name] for name in readers}
    return Session(replace(whole, plant=replace(whole.plant, detectors=few)))


def test_a_train_that_is_seen_to_leave_a_station_has_come_out_there_though_nothing_told_of_it() -> None:
    s = line_that_tells_of_little("ash-birch-at-ash", "birch-cedar-at-birch")
    s.read("ash-birch-at-ash", "e1", "b1").wait(40.0).read("birch-cedar-at-birch", "e1", "b1").wait(25.0)
    assert [row["station"] for row in s.rows("departed")] == ["ash", "birch"]
    assert [row["section"] for row in s.rows("cleared", complete=True)] == ["ash-birch"]
    assert [row["station"] for row in s.rows("arrived")] == ["birch"]
    assert s.rows("irregularity", level="danger") == []


def test_so_it_is_with_one_that_nothing_has_seen_go_either() -> None:
    s = line_that_tells_of_little("birch-cedar-at-birch")
    s.wait(40.0).read("birch-cedar-at-birch", "e1", "b1").wait(25.0)
    assert [row["station"] for row in s.rows("departed")] == ["ash", "birch"]
    assert [(row["section"], row["train"]) for row in s.rows("entered")] == [("ash-birch", "1"), ("birch-cedar", "1")]
    assert s.rows("irregularity", level="danger") == []
