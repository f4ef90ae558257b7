"""Inputs that change too often, and all that makes a detector change as often on a good evening.

The figures are the contract's defaults: over 20 changes within 10 s.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest

from bridge.wire.records import HostStarted, HostStopped, Rejected
from bridge.wire.withheld import NUMBERED, Screaming, Withheld, told_of_lines

from ..conftest import DOCKS, ENDS, TRACKS, Session

Make = Callable[..., Session]
KIND = "detector-noisy"
ALL = (*TRACKS, *ENDS, *DOCKS)


def flutter(s: Session, detector: str, changes: int, every_s: float) -> Session:
    """An input changes so many times, beginning with on."""
    for number in range(changes):
        s.see(detector, "off" if number % 2 else "on", after=every_s)
    return s


def test_over_twenty_changes_in_ten_seconds_where_nothing_is_are_told_of_once(session: Make) -> None:
    s = flutter(session().wait(20.0), "line", 20, 0.2)
    assert s.rows("irregularity") == []
    s.on("line", after=0.2)
    (row,) = s.open()
    assert (row["kind"], row["level"], row["detector"], row["because"]) == (KIND, "note", "line", ["one"])
    assert "21 times in 4.0 s" in row["text"] and "nothing is there" in row["text"]
    assert "low-voltage" in row["do"] and "mute line" in row["do"]
    flutter(s.off("line", after=0.2), "line", 30, 0.2)
    assert len(s.rows("irregularity", kind=KIND)) == 1


@pytest.mark.parametrize(("every_s", "is_noise"), [(0.51, False), (0.49, True)])
def test_the_rate_decides(session: Make, every_s: float, is_noise: bool) -> None:
    s = flutter(session().wait(20.0), "line", 40, every_s)
    assert bool(s.open(KIND)) is is_noise


def test_both_figures_are_limits(session: Make) -> None:
    s = flutter(session(limits={"noisy_changes": 6, "noisy_within": 2}).wait(20.0), "line", 6, 0.3)
    assert s.open() == []
    assert len(flutter(s, "line", 1, 0.3).open(KIND)) == 1


def test_it_ends_when_the_input_has_been_calm_for_ten_minutes(session: Make) -> None:
    s = flutter(session().wait(20.0), "line", 22, 0.2)
    s.wait(400.0)
    flutter(s, "line", 22, 0.2).wait(590.0)
    assert len(s.open(KIND)) == 1  # what floats comes in bursts
    s.wait(20.0)
    assert s.open() == []
    assert [row["status"] for row in s.rows("irregularity", kind=KIND)] == ["open", "ended"]
    flutter(s, "line", 22, 0.2)
    assert len({row["id"] for row in s.rows("irregularity", kind=KIND)}) == 2


def test_a_train_on_dirty_rails_is_none(session: Make) -> None:
    """g1 is in the section, and its wheels lose contact 40 times in 12 s."""
    s = session().goods_leaves()
    flutter(s.off("line"), "line", 80, 0.15)
    s.on("line").goods_comes()
    assert s.rows("irregularity") == []


def test_faster_than_wheels_can_be_it_is_noise_under_a_train_too(session: Make) -> None:
    s = session().goods_leaves()
    flutter(s.off("line"), "line", 22, 0.01)
    (row,) = s.open()
    assert row["kind"] == KIND and "faster than anything on the rails" in row["text"]


def test_what_stands_on_a_treadles_edge_is_none(session: Make) -> None:
    s = session(detectors=(*ALL, "ash-out")).goods_leaves()
    flutter(s, "ash-out", 40, 0.2)
    assert s.rows("irregularity") == []


def test_axles_over_a_treadle_are_none(session: Make) -> None:
    """25 changes a second, the most that a train makes (`bridge.core.detection.noise`)."""
    s = session(detectors=(*ALL, "ash-out")).goods_leaves()
    flutter(s, "ash-out", 60, 0.04)
    assert s.rows("irregularity") == []


@pytest.mark.parametrize(("standing", "is_noise"), [("e1,ash.main,1\n", False), ("w1,ash.main,1\n", True)])
def test_axles_of_a_train_of_which_nothing_has_told_are_none(session: Make, standing: str, is_noise: bool) -> None:
    """g1 is to leave Ash, and nothing but the treadle tells that it does: 22 changes in a second and a half."""
    s = session(detectors=("birch-main", "ash-out"), whereabouts="vehicle,road,order\n" + standing).wait(20.0)
    assert bool(flutter(s, "ash-out", 22, 0.075).open(KIND)) is is_noise


def test_faster_than_axles_can_be_it_is_noise_beside_a_train_too(session: Make) -> None:
    s = session(detectors=("birch-main", "ash-out")).wait(20.0)
    assert len(flutter(s, "ash-out", 22, 0.01).open(KIND)) == 1


def test_an_engine_beside_may_be_what_makes_a_track_change(session: Make) -> None:
    """e1 stands on the road beside the throat, with dirty wheels over the joint."""
    s = flutter(session().wait(20.0), "ash-throat", 40, 0.2)
    assert s.open(KIND) == []


def test_contacts_that_nothing_on_the_rails_works_are_judged_at_any_time(session: Make) -> None:
    s = session(detectors=(*ALL, "birch-points")).see("birch-points", "on").wait(20.0)
    flutter(s.off("birch-points"), "birch-points", 21, 0.3)
    assert [row["detector"] for row in s.open(KIND)] == ["birch-points"]


def test_a_reader_never_is_noisy(session: Make) -> None:
    s = session().wait(20.0)
    for _ in range(40):
        s.read("birch-dock-reader", "w3", after=0.35).see("birch-dock-reader", "off", 0.05)
    assert s.open(KIND) == []


def test_several_of_one_board_are_told_to_be_so_together(session: Make) -> None:
    s = session(detectors=(*ALL, "birch-points")).see("birch-points", "off").wait(20.0)
    for number in range(24):
        for detector in ("birch-points", "line"):
            s.see(detector, "off" if number % 2 else "on", after=0.1)
    texts = {row["detector"]: (row["text"], row["do"]) for row in s.open(KIND)}
    assert set(texts) == {"birch-points", "line"}
    assert any("of the same board" in text and "common wire" in do for text, do in texts.values())


def test_muted_it_is_seen_to(session: Make) -> None:
    s = flutter(session().wait(20.0), "line", 22, 0.2)
    s.say("mute line")
    assert s.open() == []
    flutter(s, "line", 40, 0.2)
    assert s.open() == []


def test_lines_that_were_withheld_count(session: Make) -> None:
    """The service counts the lines of an input that screams, and journals that alone."""
    s = session().wait(20.0)
    number = s.railway.plant.detectors["line"].input
    told = Withheld(NUMBERED, "one", 1, ((1, 300),), (Screaming(number, 300, 90),))
    record = told_of_lines(s.t, "mqtt", told)
    assert isinstance(record, Rejected)
    s.take(record)
    assert [row["detector"] for row in s.open(KIND)] == ["line"]


@pytest.mark.parametrize("away_s", [0.5, 30.0])
def test_a_stop_of_the_service_changes_nothing_in_it(session: Make, away_s: float) -> None:
    s = flutter(session().wait(20.0), "line", 22, 0.2)
    s.take(HostStopped(s.t))
    s.state = pickle.loads(pickle.dumps(s.state))
    s.t += away_s
    s.take(HostStarted(s.t))
    assert len(s.open(KIND)) == 1
    s.wait(610.0)
    assert s.open(KIND) == []
    assert len({row["id"] for row in s.rows("irregularity", kind=KIND)}) == 1
