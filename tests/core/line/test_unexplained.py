"""Occupations that no train can have caused, and all that a train, a fault or a hand at the power can cause.

The figures are the contract's defaults. Before each occupation the line has been still for long enough (`still`).
"""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest

from bridge.wire.records import HostStarted, HostStopped

from ..authority_steps import g1_in, g1_out, p2_out
from ..conftest import DOCKS, ENDS, TRACKS, Session, line

Make = Callable[..., Session]
KIND = "unexplained-occupation"


@pytest.fixture
def still(session: Make) -> Make:
    """A session in which nothing has moved for half a minute."""
    return lambda **how: session(**how).wait(30.0)


@pytest.mark.parametrize(
    ("detector", "key", "where"), [("line", "section", "ash-birch"), ("birch-main", "road", "birch.main")]
)
def test_what_is_occupied_for_half_a_second_on_end_is_told_of(still: Make, detector: str, key: str, where: str) -> None:
    s = still()
    s.on(detector)
    on_t = s.t
    s.wait(0.49)
    assert s.open() == []
    s.wait(0.02)
    (row,) = s.open()
    other = "road" if key == "section" else "section"
    assert (row["kind"], row["level"], row[key], row[other]) == (KIND, "danger", where, None)
    assert (row["t"], row["happened"]) == (pytest.approx(on_t + 0.5), pytest.approx(on_t))
    s.off(detector, after=5.0).wait(2.0)
    assert s.open() == []


def test_half_a_second_is_a_limit(still: Make) -> None:
    s = still(limits={"occupied_for": 3})
    s.on("line").wait(2.9)
    assert s.open() == []
    s.wait(0.2)
    assert len(s.open(KIND)) == 1


def test_it_is_on_end_that_counts_and_not_until_it_is_clear(still: Make) -> None:
    """The section says occupied until a second of off; its input has never been on for half a second."""
    s = still()
    for _ in range(6):
        s.on("line", after=0.3).off("line", after=0.4)
    s.wait(3.0)
    assert s.rows("irregularity") == []
    s.on("line", after=0.3).off("line", after=0.4).on("line", after=0.3).wait(0.45)
    assert s.rows("irregularity") == []
    s.wait(0.1)
    assert len(s.open(KIND)) == 1


def test_where_two_detectors_agree_it_is_told_of_at_once(still: Make) -> None:
    """w2 rolls out of the dock at Ash, while the engines there stand on their roads: e1's train is long, and might have
    moved; so both trains are sent away first."""
    s = still(whereabouts="vehicle,road,order\ne3,birch.loop,1\nw2,ash.dock,1\n", timetable=NOTHING)
    s.on("ash-throat").on("line", after=2.0).read("ash-end", "w2", after=0.2)
    (row,) = s.open(KIND)
    assert row["t"] == pytest.approx(s.t)
    assert row["because"] == ["w2", "line"]


NOTHING = "working,kind,engine,station,road,arrive,depart\n"


@pytest.mark.parametrize("state", ["muted", "before"])
def test_what_was_unknown_before_is_no_evidence(still: Make, state: str) -> None:
    s = still()
    if state == "muted":
        s.say("mute line")
        s.on("line").say("unmute line")
    else:
        s.take(HostStopped(s.t))
        s.take(HostStarted(s.t + 5.0))
        s.t += 5.0
        s.on("line")
    s.wait(5.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_a_trip_of_the_power_that_is_over_is_no_occupation(session: Make) -> None:
    """Three tracks of the board clear together, as in a short circuit, and are on again."""
    s = session()
    g1_out(s)
    g1_in(s)
    s.wait(30.0)
    s.off("ash-loop", after=0.5).off("birch-main", "birch-loop", after=0.0)
    s.wait(3.0).on("birch-main", "birch-loop", "ash-loop", after=0.1).wait(5.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_before_the_session_begins_nothing_is_told_of(session: Make) -> None:
    s = session(begin=None)
    s.wait(30.0)
    s.on("line").wait(5.0)
    s.say("begin 19:01")
    s.wait(5.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_a_train_that_goes_out_unread_is_the_cause(still: Make) -> None:
    s = still()
    s.on("ash-throat").on("line", after=2.0).off("ash-loop", "ash-throat").wait(5.0)
    assert s.open(KIND) == []


def test_an_engine_in_the_throat_is_the_cause_of_what_its_station_sees(still: Make) -> None:
    """e3 leaves its road for the throat, and comes to another road: light, in no timetable."""
    s = still()
    s.on("birch-throat").off("birch-loop", after=1.5).on("birch-main", after=2.0).off("birch-throat").wait(5.0)
    assert s.rows("irregularity") == []


def test_an_engine_that_alone_keeps_its_road_occupied_is_not(still: Make) -> None:
    """w3 rolls out of the dock, over the down end of Birch, on to the main road; e3 stands in the loop all the while."""
    s = still()
    s.read("birch-dock-reader", "w3").on("birch-neck", after=0.2).on("birch-main", after=2.0).wait(1.0)
    (row,) = s.open(KIND)
    assert row["road"] == "birch.main"


def test_a_throat_that_says_clear_is_believed_no_longer_once_something_was_read_at_it(still: Make) -> None:
    """The report of the throat is lost as g1 comes in: its engine is read at the section end, and then on its road."""
    s = still()
    g1_out(s)
    s.read("birch-end", "e1", after=25.0).on("birch-main", after=1.5).wait(5.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_a_train_on_its_way_is_the_cause(session: Make) -> None:
    s = session()
    g1_out(s)
    s.wait(25.0)
    s.on("birch-throat").on("birch-main", after=2.0).wait(5.0)
    assert s.open(KIND) == []


def test_what_stands_there_is_the_cause(session: Make) -> None:
    """w4 was put down on the main road at Birch, as somebody says; dirty wheels make it clear, and occupied again."""
    s = session()
    s.on("birch-main")
    s.say("stands w4 birch.main")
    s.wait(20.0)
    s.off("birch-main").wait(4.0)
    s.on("birch-main").wait(4.0)
    assert s.open(KIND) == []


def test_the_train_that_turns_out_to_be_the_cause_takes_it_back(still: Make) -> None:
    """An engine that the throat's detector does not feel: its section says occupied, and then it is read."""
    s = still()
    s.on("line").wait(0.6)
    (row,) = s.open(KIND)
    s.read("ash-end", "e2", after=1.0)
    s.wait(1.0)
    assert s.open(KIND) == []
    assert row["n"] in {each["of"] for each in s.rows("corrected")}


def test_a_train_that_goes_in_meets_it(still: Make) -> None:
    s = still()
    s.on("line").wait(20.0)
    (row,) = s.open(KIND)
    p2_out(s)
    (clash,) = s.open("section-clash")
    (without,) = s.open("no-authority")
    assert (clash["train"], clash["cause"], clash["because"]) == ("p2", row["id"], ["line"])
    assert without["cause"] == clash["id"]
    assert "where something stands" in clash["text"]


def test_the_line_at_work_shows_none(session: Make) -> None:
    s = session(detectors=(*TRACKS, *ENDS, *DOCKS))
    g1_out(s)
    g1_in(s)
    s.wait(40.0)
    p2_out(s)
    s.on("birch-throat", after=9.0).read("birch-end", "e2", after=0.2).off("line").off("birch-throat", after=2.0).wait(40.0)
    assert s.rows("irregularity", kind=KIND) == []


def test_it_can_be_put_away_and_ends(still: Make) -> None:
    s = still()
    s.on("line").wait(0.3)
    s.state = pickle.loads(pickle.dumps(s.state))
    s.wait(0.3)
    assert len(s.open(KIND)) == 1
    s.state = pickle.loads(pickle.dumps(s.state))
    s.say("mute line")
    assert s.open() == []


@pytest.mark.parametrize(
    ("detectors", "told_at_once"), [(("line", "ash-out"), True), (("line", "ash-out", "ash-end"), False)]
)
def test_a_treadle_beside_a_reader_does_not_tell_for_it(detectors: tuple[str, ...], told_at_once: bool) -> None:
    """e3, which is held to be at Birch, goes out of Ash unseen till there: the reader says so before the half second is
    over. Where none stands, the section and the treadle agree that something goes in that is no engine known to be there."""
    s = Session(line(detectors=detectors, whereabouts="vehicle,road,order\ne3,off,\nw2,ash.dock,1\n", timetable=NOTHING))
    s.wait(30.0).on("line").on("ash-out", after=0.1)
    assert bool(s.open(KIND)) is told_at_once
    if not told_at_once:
        s.read("ash-end", "e3", after=0.3).wait(5.0)
        assert s.rows("irregularity") == []
