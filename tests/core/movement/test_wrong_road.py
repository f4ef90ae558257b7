"""A wrong road is told once it is sure that the train came in there: at once where that road has told of it alone."""

from __future__ import annotations

import pytest

from bridge.core.movement.arriving import see_road

from ..believed import Believed
from ..conftest import ENDS, STANDING, TIMETABLE, TRACKS, Session, line

G1 = "\n".join(TIMETABLE.splitlines()[:3]) + "\n"
EMPTY = STANDING.replace("e3,birch.loop,1\n", "")
BLIND_LOOP = tuple(name for name in (*TRACKS, *ENDS) if name not in ("birch-loop", "birch-throat"))


def evening(detectors: tuple[str, ...] = (*TRACKS, *ENDS), standing: str = EMPTY) -> Session:
    """g1 has gone out of Ash, booked to Birch's main; in the loop there stands nothing, unless it is told otherwise."""
    return Session(line(detectors=detectors, whereabouts=standing, timetable=G1)).goods_leaves()


def comes_in(s: Session, *on: str) -> Session:
    """Its engine is read at Birch, and these come on."""
    return s.on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2).on(*on, after=0.3)


@pytest.mark.parametrize(("road", "roads"), [("loop", ["birch.loop"]), ("main", [])])
def test_it_is_told_at_once_by_a_road_that_becomes_occupied_as_the_train_comes(road: str, roads: list[str]) -> None:
    s = comes_in(evening(), f"birch-{road}")
    assert [(row["road"], row["t"]) for row in s.open("wrong-road")] == [(road, s.t) for road in roads]
    s.read("birch-end", "w1", "v1").off("line", "birch-throat").wait(30.0)
    assert [row["road"] for row in s.open()] == roads


def test_where_another_stands_there_already_it_is_told_once_the_train_is_clear_of_the_points() -> None:
    """The loop has been occupied all the time: that the train went there tells the clear main, and nothing before."""
    s = comes_in(evening(standing=STANDING)).read("birch-end", "w1", "v1").off("line").wait(20.0)
    assert s.rows("irregularity", kind="wrong-road") == []
    s.off("birch-throat").wait(3.0)
    assert [row["road"] for row in s.open("wrong-road")] == ["birch.loop"]


def test_where_it_may_as_well_be_on_its_road_nothing_is_told() -> None:
    """Neither road's detector has told anything: of the main nothing is known, and the loop has none."""
    s = evening(tuple(name for name in BLIND_LOOP if name != "birch-main"))
    s.read("birch-end", "e1", "w1", "v1", after=5.0).off("line").wait(60.0)
    assert s.rows("irregularity") == []


def test_a_road_on_which_it_is_only_taken_to_be_is_not_told_as_wrong_until_somebody_says_so() -> None:
    """The main stays clear, and long after it came it is taken to be in the loop; but nothing has told of it there."""
    s = evening(BLIND_LOOP)
    s.read("birch-end", "e1", "w1", "v1", after=5.0).off("line").wait(60.0)
    assert [row["road"] for row in s.rows("arrived", train="g1")] == ["birch.loop"]
    assert s.rows("irregularity") == []
    s.say("stands e1 birch.loop")
    s.wait(1.0)
    assert [row["road"] for row in s.open("wrong-road")] == ["birch.loop"]


@pytest.mark.parametrize(
    ("likely", "main", "evidence", "is_sure"),
    [
        (0.6, "off", (9,), True),  # its booked road says clear
        (0.59, "off", (9,), False),
        (0.6, "on", (9,), False),
        (0.94, "on", (9,), False),
        (0.95, "on", (9,), True),
        (0.94, "off", (), False),  # it is merely taken to be there
        (0.95, "off", (), True),
    ],
)
def test_how_sure_it_has_to_be(likely: float, main: str, evidence: tuple[int, ...], is_sure: bool) -> None:
    s = evening().see("birch-main", main).wait(5.0)
    train = s.state.roster.trains["g1"]
    train.call, train.wrong_road = 1, ("birch.loop", (), evidence)
    s.state.where = Believed({"e1": {"birch.loop": likely, "birch.main": 1.0 - likely}})  # type: ignore[assignment]
    see_road(s.state, "e1")
    assert train.is_road_sure is is_sure
