"""Detectors that trains pass and that say the same all the while, and those that only seem to."""

from __future__ import annotations

import pytest

from bridge.core.detection.silent import BEFORE_S

from ..conftest import DOCKS, ENDS, TRACKS, Session, line

KIND = "detector-stuck"
MOUTHS = ("ash-out",)
ALL = (*TRACKS, *ENDS, *DOCKS, *MOUTHS)
ALONE = "vehicle,road,order\nv1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\n"
HOME_AND_OUT = """working,kind,engine,station,road,arrive,depart,rake
g1,goods,e1,ash,main,,19:02,w1 v1
g1,goods,e1,birch,main,,,
g1,goods,e1,ash,main,,,
g1,goods,e1,birch,main,,,
"""


class Line(Session):
    """The line, on which g1 goes out and home; `dead`: a detector that says nothing of it."""

    dead = ""

    def see(self, detector: str, value: str, after: float = 0.5) -> Session:
        return self.wait(after) if detector == self.dead else super().see(detector, value, after)

    def goes(self, start: str, goal: str, train: tuple[str, ...]) -> Line:
        """g1 from one station to the other."""
        self.on(f"{start}-throat", after=20.0)
        if start == "ash":
            self.on("ash-out", after=1.5).off("ash-out", after=0.1)
        self.on("line", after=0.4).read(f"{start}-end", *train, after=0.4).off(f"{start}-main", after=0.2)
        self.off(f"{start}-throat", after=1.0)
        self.on(f"{goal}-throat", after=8.0)
        if goal == "ash":
            self.on("ash-out", after=0.1).off("ash-out", after=0.1)
        self.read(f"{goal}-end", train[0], after=0.2).on(f"{goal}-main", after=0.9).read(f"{goal}-end", *train[1:])
        self.off("line", after=0.7).off(f"{goal}-throat", after=2.0).wait(12.0)
        return self


OUT, HOME = ("ash", "birch", ("e1", "w1", "v1")), ("birch", "ash", ("v1", "w1", "e1"))


def evening(dead: str = "", detectors: tuple[str, ...] = ALL, standing: str = ALONE) -> Line:
    s = Line(line(detectors=detectors, timetable=HOME_AND_OUT, whereabouts=standing), begin=None)
    s.off(*MOUTHS, after=0.0)
    s.wait(20.0).say("begin 19:01")
    s.dead = dead
    return s


def runs(s: Line, *ways: tuple[str, str, tuple[str, ...]]) -> Line:
    for way in ways:
        s.goes(*way)
    return s


def test_what_tells_of_trains_is_not_stuck() -> None:
    assert runs(evening(), OUT, HOME, OUT).rows("irregularity", kind=KIND) == []


@pytest.mark.parametrize("dead", ["line", "ash-throat", "birch-throat"])
def test_a_track_that_says_clear_as_two_trains_pass_is_stuck(dead: str) -> None:
    s = runs(evening(dead), OUT)
    assert s.open(KIND) == []
    (row,) = runs(s, HOME).open(KIND)
    assert (row["detector"], row["level"]) == (dead, "note")
    assert "has said clear all the while that g1 passed" in row["text"]
    assert "low-voltage" in row["do"] and "looked" in row["do"]


def test_a_treadle_that_tells_of_nothing_is_stuck_and_how_its_contact_stands_is_told() -> None:
    (row,) = runs(evening("ash-out"), OUT, HOME).open(KIND)
    assert row["detector"] == "ash-out" and "never closed" in row["text"]
    s = evening()
    s.on("ash-out")
    s.dead = "ash-out"
    (row,) = runs(s, OUT, HOME).open(KIND)
    assert "closed all the while" in row["text"]


def test_it_ends_with_the_first_word_of_it() -> None:
    s = runs(evening("line"), OUT, HOME)
    assert len(s.open(KIND)) == 1
    s.dead = ""
    runs(s, OUT)
    assert s.open(KIND) == []
    s.dead = "line"
    runs(s, HOME, OUT)
    assert len({row["id"] for row in s.rows("irregularity", kind=KIND)}) == 2


def test_a_track_that_stays_occupied_when_all_have_gone_is_stuck_on() -> None:
    s = evening()
    s.on("birch-throat")
    s.dead = "birch-throat"
    runs(s, OUT, HOME, OUT)
    assert s.open(KIND) == []  # the train may stand there
    (row,) = runs(s, HOME).open(KIND)
    assert row["detector"] == "birch-throat" and "has not gone off since" in row["text"] and "Look along" in row["do"]
    s.dead = ""
    s.off("birch-throat").wait(2.0)
    assert s.open(KIND) == []


def test_what_a_wagon_beside_may_reach_into_is_not_stuck() -> None:
    """w3 stands on the loop at Birch, perhaps too near to the points."""
    s = evening(standing=f"{ALONE}w3,birch.loop,1\n")
    s.on("birch-throat")
    s.dead = "birch-throat"
    assert runs(s, OUT, HOME, OUT, HOME).open(KIND) == []


def test_what_was_not_heard_all_the_while_says_nothing() -> None:
    s = runs(evening("line"), OUT)
    s.say("mute line")
    s.say("unmute line", after=2.0)
    assert runs(s, HOME).open(KIND) == []


def test_a_shunt_passes_nothing() -> None:
    s = evening("ash-throat")
    for _ in range(3):
        s.on("line", after=20.0).read("ash-end", "e1", after=0.4).read("ash-end", "e1", after=4.0)
        s.off("line", after=1.0).wait(BEFORE_S)
    assert s.open(KIND) == []


def test_clear_that_began_before_a_train_went_in_is_no_proof_that_it_came_out() -> None:
    s = runs(evening("line"), OUT)
    (row,) = s.rows("cleared")
    by = set(row["evidence"])
    assert row["complete"] and s.state.conditioning is not None
    assert by != {s.state.conditioning.detectors["line"].evidence}


def test_where_it_is_doubted_a_clear_makes_nobody_go() -> None:
    s = runs(evening("line"), OUT, HOME)
    may = s.rows("may-go", train="g1")[-1]
    assert may["answer"] == "look" and "under doubt" in may["why"]
    s.say("mute line")
    assert s.open(KIND) == []
