"""A vehicle that nobody can place is said to be lost once all has been quiet for a while, and found by one look.

The core is fed by hand; where a vehicle may stand is as a test lets the engine of inference answer, so that each moment is
known. What a whole story of board lines comes to is in the recordings `wagon-lost` and `near-wagon-lost`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from bridge.core.wagons.missing import AT_WORK_S as QUIET_S  # r3 stands at Birch, and is soon to leave
from bridge.core.wagons.missing import SETTLES_S
from bridge.wire.records import HostStarted, HostStopped

from ..conftest import Session

Sessions = Callable[..., Session]
DOUBT = {"birch.dock": 0.45, "birch.main": 0.35, "off": 0.19, "birch.up": 0.01}


class Doubted:
    """A session in which one vehicle's places are as a test says; `touch` makes the core look at it again."""

    def __init__(self, session: Session, vehicle: str = "w3") -> None:
        self.session, self.vehicle = session, vehicle
        has_rest = "ash-rest" in session.railway.plant.detectors
        self.elsewhere = "ash-rest" if has_rest else "ash-end"
        self.likely: Mapping[str, float] = {}
        where = session.state.where
        assert where is not None
        weighed = where.likely
        where.likely = lambda v: self.likely if v == vehicle and self.likely else weighed(v)  # type: ignore[method-assign]

    def set(self, likely: Mapping[str, float]) -> Doubted:
        self.likely = likely
        self.session.state.where._held.touched[self.vehicle] = None  # type: ignore[union-attr]
        self.session.see(self.elsewhere, "off", 0.1)  # an event somewhere else, so that the core goes round once
        return self


@pytest.fixture
def doubted(session: Sessions) -> Doubted:
    return Doubted(session(rule="token", detectors=EVERYTHING))


EVERYTHING = (
    "ash-main",
    "ash-loop",
    "birch-main",
    "birch-loop",
    "birch-throat",
    "line",
    "birch-end",
    "ash-rest",
    "birch-rest",
)


def heard(d: Doubted) -> Doubted:
    d.session.see("birch-end", "off", 0.1)  # readers say at a start that no tag lies on them
    return d


def test_it_is_lost_once_all_has_been_quiet_and_its_places_stand_in_order_of_likelihood(doubted: Doubted) -> None:
    heard(doubted).set(DOUBT)
    doubted.session.wait(QUIET_S - 2.0)
    assert doubted.session.open("wagon-lost") == []
    doubted.session.wait(2.2)
    (row,) = doubted.session.open("wagon-lost")
    assert (row["vehicle"], row["level"]) == ("w3", "note")
    assert row["text"].endswith("Look first on birch.dock, then on birch.main, beside the layout.")
    assert "then on birch.main, beside the layout" in row["do"]
    assert row["do"].endswith("stands w3 PLACE.")


def test_a_place_that_is_likelier_than_even_is_enough(doubted: Doubted) -> None:
    heard(doubted).set({"birch.dock": 0.51, "birch.main": 0.49}).session.wait(60.0)
    assert doubted.session.rows("irregularity") == []


def test_while_something_moves_around_it_is_not_lost(doubted: Doubted) -> None:
    heard(doubted).set(DOUBT)
    for value in ("on", "off") * 4:
        doubted.session.see("birch-main", value, 10.0)
    assert doubted.session.open("wagon-lost") == []
    doubted.session.wait(3 * QUIET_S)
    assert len(doubted.session.open("wagon-lost")) == 1


def test_what_moves_elsewhere_is_nothing_to_it(doubted: Doubted) -> None:
    heard(doubted).set(DOUBT)
    for value in ("off", "on"):
        doubted.session.see("ash-loop", value, QUIET_S / 2 - 1.0)
    doubted.session.wait(3.0)
    assert len(doubted.session.open("wagon-lost")) == 1


def test_while_a_detector_around_is_unknown_it_is_not_lost(doubted: Doubted) -> None:
    doubted.set(DOUBT).session.wait(120.0)  # the reader at Birch's end has not been heard
    assert doubted.session.open("wagon-lost") == []
    heard(doubted).session.wait(2 * QUIET_S)
    assert len(doubted.session.open("wagon-lost")) == 1


def test_a_detector_that_somebody_has_muted_keeps_nobody_from_saying_so(doubted: Doubted) -> None:
    heard(doubted).session.say("mute birch-main")
    doubted.set(DOUBT).session.wait(QUIET_S + 1.0)
    assert len(doubted.session.open("wagon-lost")) == 1


def test_a_service_that_stood_still_has_not_waited(doubted: Doubted) -> None:
    s = heard(doubted).set(DOUBT).session
    s.wait(QUIET_S - 5.0).take(HostStopped(s.t))
    s.t += 300.0
    s.take(HostStarted(s.t))
    for detector in EVERYTHING:
        s.see(detector, "on" if detector == "birch-loop" else "off", 0.1)
    s.wait(10.0)
    assert s.open("wagon-lost") == []
    s.wait(2 * QUIET_S)
    assert len(s.open("wagon-lost")) == 1


def test_it_is_found_only_when_a_place_is_clearly_likelier(doubted: Doubted) -> None:
    s = heard(doubted).set(DOUBT).session.wait(QUIET_S + 1.0)
    doubted.set({"birch.dock": 0.55, "birch.main": 0.45})
    assert len(s.open("wagon-lost")) == 1
    doubted.set({"birch.dock": 0.61, "birch.main": 0.39})
    assert s.open("wagon-lost") == []
    doubted.set(DOUBT).session.wait(QUIET_S + 1.0)
    assert [row["id"] for row in s.open("wagon-lost")] == ["i2"]


def test_where_to_look_is_said_again_when_the_order_has_changed(doubted: Doubted) -> None:
    s = heard(doubted).set(DOUBT).session.wait(QUIET_S + 1.0)
    doubted.set({**DOUBT, "birch.dock": 0.44}).session.wait(QUIET_S + 1.0)
    assert len(s.rows("irregularity")) == 1
    doubted.set({**DOUBT, "birch.main": 0.45, "birch.dock": 0.35}).session.wait(QUIET_S + 1.0)
    assert [row["id"] for row in s.rows("irregularity")] == ["i1", "i1"]
    assert "Look first on birch.main, then on birch.dock" in s.open("wagon-lost")[0]["text"]


def test_a_train_on_the_line_takes_its_time(session: Sessions) -> None:
    d = Doubted(session(), "w1")
    d.session.see("birch-end", "off", 0.1)
    d.session.goods_leaves()
    d.likely = {"ash-birch": 0.5, "ash.dock": 0.5}
    d.session.wait(120.0)
    assert d.session.open("wagon-lost") == []


READERS = ("ash-end", "birch-end", "ash-dock-reader", "birch-dock-reader")
ELSEWHERE = {"ash.main": 0.5, "birch.loop": 0.5}


def in_a_train(session: Sessions, vehicle: str = "w1", **files: str) -> Doubted:
    """w1 stands in g1 at Ash, and all readers have been heard."""
    d = Doubted(session(**files), vehicle)
    for reader in READERS:
        d.session.see(reader, "off", 0.1)
    return d


def test_what_stands_in_a_train_at_a_station_is_where_its_crew_is(session: Sessions) -> None:
    d = in_a_train(session).set({"ash.main": 0.5, "ash.loop": 0.49, "off": 0.01})
    d.session.wait(2 * SETTLES_S)
    assert d.session.open("wagon-lost") == []


def test_what_goes_with_an_engine_is_lost_once_its_train_has_had_its_time_to_show_it(session: Sessions) -> None:
    d = in_a_train(session).set(ELSEWHERE)
    d.session.wait(SETTLES_S - 1.0)
    assert d.session.open("wagon-lost") == []
    d.session.wait(2.0)
    assert [row["vehicle"] for row in d.session.open("wagon-lost")] == ["w1"]


def test_a_doubt_that_was_over_in_between_is_another(session: Sessions) -> None:
    d = in_a_train(session).set(ELSEWHERE)
    d.session.wait(SETTLES_S - 60.0)
    d.set({"ash.main": 0.6, "birch.loop": 0.4}).set(ELSEWHERE).session.wait(SETTLES_S - 1.0)
    assert d.session.open("wagon-lost") == []
    d.session.wait(2.0)
    assert len(d.session.open("wagon-lost")) == 1


def test_what_another_train_is_to_lift_is_looked_for_at_once(session: Sessions) -> None:
    """g1 is to lift w2, which goes with e2 as far as is known."""
    d = in_a_train(session, "w2", moves="vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n")
    where = d.session.state.where
    assert where is not None
    where._company.couple("w2", "e2")  # type: ignore[attr-defined]
    d.set({"ash.dock": 0.5, "birch.dock": 0.5}).session.wait(QUIET_S + 1.0)
    assert [row["vehicle"] for row in d.session.open("wagon-lost")] == ["w2"]


def test_a_time_in_which_nothing_was_heard_settles_nothing(session: Sessions) -> None:
    s = in_a_train(session).set(ELSEWHERE).session
    s.wait(100.0).take(HostStopped(s.t))
    s.t += SETTLES_S
    s.take(HostStarted(s.t))
    for detector in s.railway.plant.detectors.values():
        s.see(detector.id, "on" if detector.id in ("ash-main", "ash-loop", "birch-loop") else "off", 0.1)
    s.wait(SETTLES_S - 110.0)
    assert s.open("wagon-lost") == []
    s.wait(12.0)
    assert len(s.open("wagon-lost")) == 1


def test_an_engine_is_never_lost(session: Sessions) -> None:
    d = Doubted(session(), "e3")
    for reader in ("ash-end", "birch-end", "ash-dock-reader", "birch-dock-reader"):
        d.session.see(reader, "off", 0.1)
    d.set({"birch.main": 0.5, "birch.loop": 0.5}).session.wait(4 * QUIET_S)
    assert d.session.open("wagon-lost") == []


def test_between_roads_of_a_station_that_nothing_watches_none_is_lost(session: Sessions) -> None:
    blind = Doubted(session(rule="token", detectors=("ash-main", "ash-loop", "line", "birch-end", "ash-rest", "birch-rest")))
    heard(blind).set({"birch.dock": 0.34, "birch.main": 0.33, "birch.loop": 0.33}).session.wait(3 * QUIET_S)
    assert blind.session.open("wagon-lost") == []
    blind.set({"birch.dock": 0.3, "birch.main": 0.2, "ash.loop": 0.5}).session.wait(3 * QUIET_S)
    assert len(blind.session.open("wagon-lost")) == 1


def test_what_somebody_has_just_moved_is_not_lost(doubted: Doubted) -> None:
    heard(doubted).set(DOUBT)
    held = doubted.session.state.where._held  # type: ignore[union-attr]
    held.changed["w3"] = doubted.session.t + 60.0
    doubted.session.wait(60.0 + QUIET_S - 1.0)
    assert doubted.session.open("wagon-lost") == []
    doubted.session.wait(2.0)
    assert len(doubted.session.open("wagon-lost")) == 1


@pytest.mark.parametrize(
    ("places", "is_together"),
    [
        (DOUBT, True),
        ({"birch.dock": 0.4, "ash.loop": 0.39, "off": 0.21}, True),
        ({**DOUBT, "birch.main": 0.46, "birch.dock": 0.34}, False),
    ],
    ids=["the same places", "the same place first", "another place first"],
)
def test_what_is_to_be_looked_for_first_in_the_same_place_is_said_together(
    doubted: Doubted, places: Mapping[str, float], is_together: bool
) -> None:
    for reader in READERS[1:]:
        if reader in doubted.session.railway.plant.detectors:
            doubted.session.see(reader, "off", 0.1)
    heard(doubted).set(DOUBT)
    Doubted(doubted.session, "w2").set(places)
    doubted.session.wait(QUIET_S + 1.0)
    first, other = doubted.session.open("wagon-lost")
    assert {first["vehicle"], other["vehicle"]} == {"w2", "w3"}
    assert (first["cause"], other["cause"]) == (None, first["id"] if is_together else None)


def test_who_is_not_found_by_that_look_is_looked_for_further(doubted: Doubted) -> None:
    heard(doubted).set(DOUBT)
    other = Doubted(doubted.session, "w2").set(DOUBT)
    doubted.session.wait(QUIET_S + 1.0)
    first, second = doubted.session.open("wagon-lost")
    found, missing = (doubted, other) if first["vehicle"] == "w3" else (other, doubted)
    found.set({"birch.dock": 1.0}).session.wait(1.0)
    assert missing.session.open("wagon-lost") == []  # that look may tell of it too
    missing.session.wait(QUIET_S)
    (row,) = missing.session.open("wagon-lost")
    assert (row["vehicle"], row["cause"]) == (second["vehicle"], None)
