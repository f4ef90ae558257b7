"""What a departure leaves undone is told by what would have seen it: one reader that says nothing is not enough."""

from __future__ import annotations

import pytest

from ..conftest import DOCKS, ENDS, STANDING, STOCK, TRACKS, Session, line
from .test_freight import BOTH_WAYS, LIFT, SET_OUT, come_with, leave_with

NO_DOCKS = (*TRACKS, *ENDS)
NO_TAG = STOCK.replace("w2,wagon,100,04B2,", "w2,wagon,100,,")


def missed(s: Session) -> list[str]:
    return [row["vehicle"] for row in s.open("lift-missed")]


def test_a_reader_at_the_limit_alone_may_have_missed_it_and_the_next_one_tells() -> None:
    s = Session(line(moves=LIFT, detectors=NO_DOCKS, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    assert s.rows("departed", train="g1")
    assert missed(s) == []
    come_with(s, "e1", "w1", "v1")
    assert missed(s) == ["w2"]


def test_read_further_on_it_was_lifted() -> None:
    s = Session(line(moves=LIFT, detectors=NO_DOCKS, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    come_with(s, "e1", "w2", "w1", "v1")
    assert s.rows("irregularity", kind="lift-missed") == []


@pytest.mark.parametrize(
    ("detectors", "is_said"), [(NO_DOCKS, False), ((*NO_DOCKS, *DOCKS), True)], ids=["no reader at the dock", "one there"]
)
def test_of_a_wagon_without_a_tag_the_dock_tells_where_its_reader_has_seen_nobody(
    detectors: tuple[str, ...], is_said: bool
) -> None:
    s = Session(line(moves=LIFT, detectors=detectors, timetable=BOTH_WAYS, stock=NO_TAG))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    come_with(s, "e1", "w1", "v1")
    assert s.rows("departed", train="g1")
    assert missed(s) == (["w2"] if is_said else [])


def test_it_is_told_at_once_where_the_dock_has_a_reader_too() -> None:
    s = Session(line(moves=LIFT, timetable=BOTH_WAYS, whereabouts=STANDING))
    leave_with(s, "e1", "w1", "v1")
    s.wait(25.0)
    assert missed(s) == ["w2"]


def test_what_is_drawn_out_over_the_limit_is_not_forgotten_yet() -> None:
    """Its train may shunt: it has not departed."""
    s = Session(line(moves=SET_OUT, timetable=BOTH_WAYS))
    leave_with(s, "e1", "w1", "v1")
    come_with(s, "e1", "w1", "v1")
    s.on("birch-throat", after=5.0).on("line").read("birch-end", "v1", "w1", after=0.5)
    assert s.rows("irregularity", kind="set-out-forgotten") == []
