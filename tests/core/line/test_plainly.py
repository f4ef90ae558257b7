"""Dangers that rest on what is plain: who may only have gone in raises none, and takes nothing from who plainly has.

Each case is one of an evening on a railway with few detectors, brought on to the line; beside it stands the same with the
danger, where there is one. What a train out of section is, and that one train is in a section: check values 6.1, 6.16.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ..authority_steps import lift
from ..conftest import ENDS, RESTS, TOKEN, TRACKS, Session, line

Make = Callable[..., Session]
NOTHING = "working,kind,engine,station,road,arrive,depart\n"
BOTH_AT_ASH = "vehicle,road,order\nw1,ash.main,1\ne1,ash.main,2\ne2,ash.main,3\ne3,birch.loop,1\n"
FIRST_P2 = """working,kind,engine,station,road,arrive,depart,rake
g1,goods,e1,ash,main,,19:20,w1 v1
g1,goods,e1,birch,main,19:26,,
p2,passenger,e2,ash,loop,,19:10,
p2,passenger,e2,birch,loop,,,
"""
LIFTS = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"


def g1_draws_out(s: Session) -> None:
    """g1 is read as it goes out of Ash."""
    s.read("ash-end", "e1")


def g1_comes_back(s: Session) -> None:
    """It is read as it comes back, long enough after."""
    s.wait(12.0).read("ash-end", "e1")


def test_who_is_only_reckoned_to_have_gone_ahead_takes_nothing_from_who_is_read() -> None:
    """w1 is read going out, and e1 behind it, though e2 was held to stand before both: it has gone ahead of them unread, or
    had been taken from there."""
    s = Session(line(rule="token", detectors=(*ENDS, *RESTS), whereabouts=BOTH_AT_ASH, timetable=NOTHING))
    lift(s)
    s.wait(12.0).read("ash-end", "w1").wait(12.0).read("ash-end", "e1").wait(1.0)
    assert [(row["train"], row["why"]) for row in s.rows("authority", state="given")] == [("e1", "token lifted")]
    assert s.rows("irregularity", level="danger") == []


def test_the_token_lies_where_the_train_has_come_out_though_it_has_not_arrived() -> None:
    s = Session(line(rule="staff-and-ticket", detectors=ENDS))
    s.say("give ash-birch g1")
    s.read("ash-end", "e1", "w1", "v1").wait(20.0).read("birch-end", "e1", "w1", "v1")
    assert s.rows("arrived") == []
    s.say("return ash-birch g1")
    s.say("give ash-birch r3 ticket")
    assert [row["train"] for row in s.rows("authority", state="refused")] == []
    s.wait(10.0).read("birch-end", "e3").wait(1.0)
    assert s.open("no-authority") == []


def test_the_token_lies_where_the_train_has_stayed_that_only_shunted() -> None:
    s = Session(line(rule="staff-and-ticket", detectors=ENDS))
    s.say("give ash-birch g1")
    g1_draws_out(s)
    g1_comes_back(s)
    s.say("return ash-birch g1")
    s.say("give ash-birch r3 ticket")
    assert [row["train"] for row in s.rows("authority", state="refused")] == ["r3"]


@pytest.mark.parametrize(("moves", "takers"), [(LIFTS, []), ("vehicle,from,to,working,call\n", ["p2"])])
def test_a_token_that_a_shunting_train_laid_down_may_be_taken_by_it_again(moves: str, takers: list[str]) -> None:
    """p2 is booked next; but g1 has shunted with the token, laid it down, and still has work to do (`moves`)."""
    s = Session(line(rule="token", detectors=(*ENDS, *RESTS), timetable=FIRST_P2, moves=moves))
    s.say("give ash-birch g1")
    s.off("ash-rest").wait(2.0)
    g1_draws_out(s)
    g1_comes_back(s)
    s.see("ash-rest", f"tag={TOKEN}").wait(2.0)
    before = len(s.rows("authority", state="given"))
    s.off("ash-rest").wait(2.0)
    assert [row["train"] for row in s.rows("authority", state="given")[before:]] == takers
    s.wait(12.0).read("ash-end", "e1").wait(1.0)
    assert [row["train"] for row in s.open("no-authority")] == ["g1" for _ in takers]


@pytest.mark.parametrize("other", [False, True])
def test_who_shunts_once_more_into_its_track_circuit_still_occupies_it(session: Make, other: bool) -> None:
    """The section has not been clear since g1 was read coming back; where r3 has gone in since (`other`), it is that too."""
    s = session(rule="track-circuit", detectors=("line", *ENDS))
    s.on("line").read("ash-end", "e1", after=0.2)
    g1_comes_back(s)
    if other:
        s.wait(5.0).read("birch-end", "e3")
    s.wait(12.0).read("ash-end", "e1").wait(0.1)
    assert [row["train"] for row in s.open("no-authority") if row["train"] == "g1"] == ["g1" for _ in range(other)]
    assert bool(s.open("section-clash")) is other


def test_a_section_is_cleared_unproved_where_nothing_could_tell_of_the_last_vehicle(session: Make) -> None:
    """g1 comes in at Birch, where no reader stands: its wagons were read going in, and nothing tells that they come out."""
    s = session(detectors=("ash-end", "birch-main"))
    s.read("ash-end", "e1", "w1", "v1").wait(20.0).on("birch-main").wait(29.0)
    assert s.rows("cleared") == []
    s.wait(2.0)
    assert [(row["train"], row["complete"]) for row in s.rows("cleared")] == [("g1", False)]
    s.read("ash-end", "e2")
    assert s.rows("authority", train="p2")[-1]["why"] == "evidence weak"
    assert s.open() == []


def test_vehicles_that_a_reader_could_tell_of_are_waited_for(session: Make) -> None:
    s = session(detectors=(*ENDS, "birch-main"))
    s.read("ash-end", "e1", "w1", "v1").wait(20.0).read("birch-end", "e1").on("birch-main").wait(40.0)
    assert s.rows("cleared") == []


def test_what_has_been_clear_since_is_not_still_occupied(session: Make) -> None:
    """The engine comes out, and the section is clear: its coaches work no detector. Later something goes in."""
    rake = "vehicle,road,order\nc2,ash.main,1\nc1,ash.main,2\ne1,ash.main,3\ne2,ash.loop,1\ne3,birch.loop,1\n"
    stock = "vehicle,kind,length,tags,tail,detected\ne1,engine,150,04A1,no,yes\ne2,engine,150,04A2,no,yes\n"
    stock += "e3,engine,150,04A3,no,yes\nc1,coach,250,04C1,no,no\nc2,coach,250,04C2,no,no\n"
    booked = "working,kind,engine,station,road,arrive,depart,rake\ng1,goods,e1,ash,main,,19:02,c1 c2\n"
    booked += "g1,goods,e1,birch,main,19:06,,\n"
    s = session(detectors=(*TRACKS, *ENDS), stock=stock, whereabouts=rake, timetable=booked)
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "c1", "c2")
    s.off("ash-main", "ash-throat").on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2)
    s.on("birch-main").off("line", "birch-throat").wait(25.0)
    assert s.rows("cleared") == []
    s.on("line").wait(0.3)
    assert s.rows("irregularity", kind="train-divided") == []
