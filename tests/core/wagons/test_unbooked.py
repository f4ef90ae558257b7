"""Wagons moved that no move or rake names: by a train, as its departure shows, or by a hand where no engine has been."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest

from ..conftest import Session

Make = Callable[..., Session]
KIND = "wagon-unbooked"


def fetches(s: Session, wagon: str = "w2") -> Session:
    """e1 goes into the dock at Ash and comes out with a wagon."""
    s.on("ash-throat", after=2.0).read("ash-dock-reader", "e1", after=3.0).off("ash-throat", after=3.0)
    return s.on("ash-throat", after=5.0).read("ash-dock-reader", "e1", wagon).off("ash-throat", after=6.0)


def leaves_with(s: Session, *train: str) -> Session:
    """g1 goes out of Ash so, and is complete in the section."""
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", train[0], after=0.2).read("ash-end", *train[1:-1])
    return s.off("ash-main", after=0.2).read("ash-end", train[-1]).off("ash-throat", after=1.0)


def test_a_train_that_leaves_with_a_wagon_that_nothing_names(session: Make) -> None:
    s = session()
    fetches(s)
    assert s.rows("irregularity", kind=KIND) == [], "it may be put back yet"
    leaves_with(s, "e1", "w2", "w1", "v1")
    (row,) = s.open(KIND)
    assert (row["level"], row["vehicle"], row["cause"]) == ("note", "w2", None)
    (departed,) = s.rows("departed")
    assert row["happened"] == departed["happened"]


def test_what_is_put_back_was_not_moved(session: Make) -> None:
    s = session()
    fetches(s)
    s.on("ash-throat", after=4.0).read("ash-dock-reader", "w2", "e1").wait(3.0).read("ash-dock-reader", "e1", after=9.0)
    s.off("ash-throat", after=3.0)
    leaves_with(s, "e1", "w1", "v1")
    assert s.rows("irregularity", kind=KIND) == []


MOVES = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,{working},\n"
HEAD = "working,kind,engine,station,road,arrive,depart,rake\n"
IN_RAKE = HEAD + "g1,goods,e1,ash,main,,19:02,w1 v1\ng1,goods,e1,birch,main,19:06,,\n"
OTHER = "p2,passenger,e2,ash,loop,,20:02,w2\np2,passenger,e2,birch,loop,,,\n"


@pytest.mark.parametrize("plan", [{"moves": MOVES.format(working="g1")}, {"timetable": IN_RAKE + OTHER}])
def test_what_a_move_or_a_rake_names_is_not_unbooked(session: Make, plan: dict[str, str]) -> None:
    s = session(**plan)
    leaves_with(fetches(s), "e1", "w2", "w1", "v1")
    assert s.rows("irregularity", kind=KIND) == []


def test_a_departure_that_was_none_takes_it_back(session: Make) -> None:
    s = session()
    leaves_with(fetches(s), "e1", "w2", "w1", "v1")
    (row,) = s.open(KIND)
    s.on("ash-throat", after=8.0).read("ash-end", "v1", "w1", "w2", "e1").on("ash-main", after=0.2).off("line", after=0.5)
    s.wait(3.0)
    assert s.open(KIND) == []
    assert row["n"] in {each["of"] for each in s.rows("corrected")}


def heard(s: Session) -> Session:
    """The readers of both docks have been heard since the beginning."""
    return s.see("ash-dock-reader", "off").see("birch-dock-reader", "off")


def hand_moves(s: Session, detector: str = "birch-dock-reader") -> Session:
    """w2 is read twice at the mouth of the dock at Birch, as somebody puts it down there and e3 draws it out."""
    return s.wait(30.0).read(detector, "w2").read(detector, "w2", after=12.0).wait(1.0)


def test_a_wagon_read_where_no_engine_can_have_taken_it(session: Make) -> None:
    s = heard(session())
    hand_moves(s)
    (row,) = s.open(KIND)
    assert (row["level"], row["vehicle"]) == ("note", "w2")
    assert "ash.dock" in row["text"]


def test_where_an_engine_has_been_at_its_road_no_hand_is_told_of(session: Make) -> None:
    s = heard(session())
    s.read("ash-dock-reader", "e1", after=20.0)
    hand_moves(s)
    assert s.rows("irregularity", kind=KIND) == []


def test_where_its_reader_was_not_heard_no_hand_is_told_of(session: Make) -> None:
    s = heard(session())
    s.say("mute ash-dock-reader")
    s.wait(20.0)
    s.say("unmute ash-dock-reader")
    hand_moves(s)
    assert s.rows("irregularity", kind=KIND) == []


def test_one_read_may_be_a_ghost(session: Make) -> None:
    s = heard(session())
    s.read("birch-dock-reader", "w2", after=30.0).wait(20.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_what_is_booked_is_no_business_of_this_kind(session: Make) -> None:
    s = heard(session(moves=MOVES.format(working="g1")))
    hand_moves(s)
    assert s.rows("irregularity", kind=KIND) == []


def test_it_can_be_put_away(session: Make) -> None:
    s = heard(session())
    s.wait(30.0).read("birch-dock-reader", "w2")
    s.state = pickle.loads(pickle.dumps(s.state))
    s.read("birch-dock-reader", "w2", after=12.0).wait(1.0)
    assert len(s.open(KIND)) == 1


def test_two_tags_that_are_exchanged_are_suspected_where_the_one_was_to_be_read(session: Make) -> None:
    s = heard(session())
    leaves_with(s, "e1", "w2", "v1").wait(8.0).on("birch-throat").read("birch-end", "e1")
    (row,) = s.open(KIND)
    assert (row["vehicle"], row["because"]) == ("w2", ["w1"])
    assert "exchanged" in row["text"]
    assert "tag TAG w2, tag TAG w1" in row["do"]


def test_a_wagon_put_into_a_train_by_hand_is_no_exchange(session: Make) -> None:
    s = heard(session())
    leaves_with(s, "e1", "w2", "w1", "v1").wait(8.0).on("birch-throat").read("birch-end", "e1")
    (row,) = s.open(KIND)
    assert (row["vehicle"], row["because"]) == ("w2", [])
    assert "exchanged" not in row["text"]
