"""Trains that come out of a section short: told by a section that stays occupied, by a tail treadle, by a good reader.

Source: a train is out of section only when complete (GERT8000-TS4 clause 3.6.4; check values 6.16), and a section with
more in than out is occupied (6.19). The figures are the contract's defaults.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest

from bridge.core.line import divided
from bridge.core.presence import Presence

from ...recordings.said import all_said
from ...recordings.scene import Scene
from ...recordings.scenes import oxlip
from ..conftest import ENDS, TRACKS, Session

Make = Callable[..., Session]
TAILED = (*TRACKS, *ENDS, "birch-tail")


def comes_short(s: Session, *passes: str) -> float:
    """g1 comes in at Birch, and only these of it pass the end; the throat clears. When the last of them passed."""
    s.on("birch-throat", after=8.0).read("birch-end", passes[0], after=0.2).read("birch-end", *passes[1:])
    last_t = s.t
    s.on("birch-main", after=0.3).off("birch-throat", after=2.0)
    return last_t


@pytest.mark.parametrize(("limits", "after_s"), [({}, 10.0), ({"divided_after": 25}, 25.0)])
def test_a_section_that_stays_occupied_shows_it(session: Make, limits: dict[str, float], after_s: float) -> None:
    s = session(limits=limits)
    s.goods_leaves()
    last_t = comes_short(s, "e1", "w1")
    s.wait(last_t + after_s - s.t - 0.01)
    assert s.rows("irregularity") == []
    s.wait(0.02)
    (row,) = s.open()
    assert (row["kind"], row["level"], row["section"], row["train"]) == ("train-divided", "danger", "ash-birch", "g1")
    assert (row["t"], row["happened"]) == (pytest.approx(last_t + after_s), pytest.approx(last_t))
    assert "v1" in row["because"]
    assert s.rows("cleared") == []


def test_it_ends_when_the_section_is_clear(session: Make) -> None:
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(40.0)
    assert s.rows("cleared") == [], "nothing is cleared while a division is open"
    s.off("line").wait(3.0)
    assert s.open() == []
    assert [row["complete"] for row in s.rows("cleared")] == [True]


def test_it_ends_by_the_word_of_who_has_looked(session: Make) -> None:
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(20.0)
    s.say("return ash-birch g1")
    assert s.open() == []


@pytest.mark.parametrize("stands_s", [15.0, 40.0])
def test_while_the_throat_is_occupied_it_may_stand_across_for_thirty_seconds(session: Make, stands_s: float) -> None:
    s = session()
    s.goods_leaves()
    s.on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2).read("birch-end", "w1")
    last_t = s.t
    s.on("birch-main", after=0.3).wait(stands_s)
    found = s.open("train-divided")
    assert [row["t"] for row in found] == ([pytest.approx(last_t + 30.0)] if stands_s > 30.0 else [])
    if not found:
        s.off("birch-throat").wait(3.0)
        assert len(s.open("train-divided")) == 1, "the throat has cleared, and the section has not"


def test_an_unknown_throat_gives_it_as_long(session: Make) -> None:
    s = session()
    s.say("mute birch-throat")
    s.goods_leaves()
    last_t = comes_short(s, "e1", "w1")
    s.wait(40.0)
    assert [row["t"] for row in s.open("train-divided")] == [pytest.approx(last_t + 30.0)]


def test_an_unknown_section_shows_nothing(session: Make) -> None:
    s = session()
    s.say("mute line")
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(60.0)
    assert s.rows("irregularity") == []
    assert [row["complete"] for row in s.rows("cleared")] == [False]


def test_a_section_that_another_train_has_entered_says_nothing_of_the_first(session: Make) -> None:
    s = session()
    s.say("give ash-birch p2 assisting")
    s.goods_leaves()
    s.on("ash-throat", after=4.0).read("ash-end", "e2").off("ash-loop", "ash-throat")
    comes_short(s, "e1", "w1")
    s.wait(40.0)
    assert s.open("train-divided") == []


def goods_comes_with_its_tail(s: Session, tail: bool) -> Session:
    """g1 comes in at Birch, only its engine read: the treadle tells of its tail, or does not."""
    s.on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2).on("birch-main", after=2.0)
    if tail:
        s.on("birch-tail").off("birch-tail", after=0.1)
    return s.off("birch-throat", after=2.0)


@pytest.mark.parametrize("is_known", [True, False])
def test_a_tail_treadle_that_is_known_to_be_good_shows_it_by_silence(session: Make, is_known: bool) -> None:
    s = session(detectors=TAILED)
    s.say("mute line")
    if is_known:  # somebody tries it with a wagon's magnet
        s.on("birch-tail", after=3.0).off("birch-tail", after=0.1)
    s.goods_leaves()
    goods_comes_with_its_tail(s, tail=False).wait(45.0)
    assert bool(s.rows("irregularity", kind="train-divided")) is is_known
    assert s.rows("cleared", complete=True) == []


def test_a_tail_treadle_that_tells_of_the_tail_proves_it(session: Make) -> None:
    s = session(detectors=TAILED)
    s.say("mute line")
    s.on("birch-tail", after=3.0).off("birch-tail", after=0.1)
    s.goods_leaves()
    goods_comes_with_its_tail(s, tail=True).wait(45.0)
    assert s.rows("irregularity") == []
    assert [row["complete"] for row in s.rows("cleared")] == [True]


def test_a_treadle_that_has_missed_a_tail_is_not_known_to_be_good(session: Make) -> None:
    """The section clears, so the train was complete: the treadle has missed its tail, and its silence shows nothing."""
    s = session(detectors=TAILED)
    s.on("birch-tail", after=3.0).off("birch-tail", after=0.1)
    s.goods_leaves()
    goods_comes_with_its_tail(s, tail=False)
    s.off("line").wait(3.0)
    assert s.rows("irregularity") == []
    assert s.state.good_tails == {}


@pytest.mark.parametrize(("unread", "reads", "shows"), [(2, 6, True), (1, 6, False), (2, 1, False)])
def test_two_vehicles_unread_at_a_good_reader_show_it(session: Make, unread: int, reads: int, shows: bool) -> None:
    """Nothing is known of the section. `reads`: how often e3 has passed the reader at Birch before."""
    s = session()
    s.say("mute line")
    for _ in range(reads):
        s.on("birch-throat", after=12.0).read("birch-end", "e3", after=12.0).read("birch-end", "e3", after=12.0)
        s.off("birch-throat").wait(3.0)
    s.goods_leaves()
    comes_short(s, *["e1", "w1", "v1"][: 3 - unread])
    s.wait(12.0)
    found = s.open("train-divided")
    assert bool(found) is shows
    if shows:
        assert found[0]["because"] == ["v1", "w1", "birch-end"]


def test_a_train_that_goes_in_meets_what_was_left(session: Make) -> None:
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(15.0)
    (divided,) = s.open("train-divided")
    s.on("birch-throat", after=2.0).read("birch-end", "e3").off("birch-loop", "birch-throat").wait(2.0)
    (clash,) = s.open("section-clash")
    (without,) = s.open("no-authority")
    assert (clash["cause"], clash["train"], clash["because"]) == (divided["id"], "r3", ["v1"])
    assert without["cause"] == clash["id"]


def test_whoever_fetches_what_it_has_left_meets_nobody(session: Make) -> None:
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(15.0)
    s.on("birch-throat", after=2.0).read("birch-end", "w1", "e1").off("birch-main", "birch-throat").wait(10.0)
    (divided,) = s.open("train-divided")
    assert {(row["kind"], row["cause"]) for row in s.open() if row is not divided} <= {("no-authority", divided["id"])}


def test_what_is_found_can_be_put_away(session: Make) -> None:
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(15.0)
    s.state = pickle.loads(pickle.dumps(s.state))
    s.off("line").wait(3.0)
    assert s.open() == []


@pytest.mark.parametrize("again_s", [1.5, 15.0])
def test_reports_that_come_late_put_it_right(again_s: float) -> None:
    """The last wagon's read and the section's clear are lost on their way, and sent again: before the danger is said, or
    after."""
    s = oxlip.goods_leaves_thistle(Scene("g1 comes in complete, and the last reports of that are late."))
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).read("marrow-up-limit", "b1", after=0.7, lost=True)
    s.report("thistle-marrow-line", "off", 0.5, lost=True).off("marrow-up-throat", after=2.5)
    rows = all_said(s.send_again("marrow", after=again_s).wait(20.0).text())
    said = [row for row in rows if row["says"] == "irregularity" and row["kind"] == "train-divided"]
    assert bool(said) is (again_s > 10.0)
    withdrawn = {row["of"] for row in rows if row["says"] == "corrected"}
    assert all(row["n"] in withdrawn for row in said)
    assert [row["complete"] for row in rows if row["says"] == "cleared" and row["n"] not in withdrawn] == [True]
    assert all("Evidence weak" in row["text"] and "marrow" in row["because"] for row in said)


@pytest.mark.parametrize(
    ("is_plain", "read_far", "is_short"), [(True, (), True), (False, ("e1",), True), (False, (), False)]
)
def test_who_may_never_have_gone_in_is_not_short(
    session: Make, is_plain: bool, read_far: tuple[str, ...], is_short: bool
) -> None:
    """What occupies the section may be another: unless something of this one was read where it came out."""
    s = session(moves="vehicle,from,to,working,call\nw1,ash.main,birch.dock,g1,\n")  # it has work to do at Birch
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    (presence,) = s.state.presences["ash-birch"]
    presence.read_far, presence.told_t = read_far, -1e9
    for entry in s.state.entries["ash-birch"]:
        entry.is_plain = entry.is_witnessed = is_plain
    s.wait(15.0)
    assert (presence.short is not None) is is_short


@pytest.mark.parametrize(("departed", "likely", "is_short"), [(True, 0.0, False), (False, 0.03, False), (False, 0.01, True)])
def test_another_that_may_be_in_the_section_may_be_what_occupies_it(
    session: Make, monkeypatch: pytest.MonkeyPatch, departed: bool, likely: float, is_short: bool
) -> None:
    """One that never was said to have departed, and is hardly held to be there, is not."""
    s = session()
    s.goods_leaves()
    comes_short(s, "e1", "w1")
    s.wait(7.0)  # it is not due yet
    (mine,) = s.state.presences["ash-birch"]
    other = Presence("p2", "e2", "ash-birch", "birch.up", s.t, 1, "e2", s.t, "entry:9", departed=departed)
    s.state.presences["ash-birch"].append(other)
    where = s.state.where
    assert where is not None
    places = where.likely
    there = {"ash-birch": likely, "birch.main": 1.0 - likely}
    monkeypatch.setattr(where, "likely", lambda vehicle: there if vehicle == "e2" else places(vehicle))
    s.state.t += 5.0
    divided.look(s.state, mine)
    assert (mine.short is not None) is is_short
