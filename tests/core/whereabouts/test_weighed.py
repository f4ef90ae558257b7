"""The engine in force as the rest of the core asks it: beliefs, whence they come, and what follows from how trains run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pytest

from bridge.core.conditioning import Observation
from bridge.core.whereabouts import Crossing, Joined, Left
from bridge.core.whereabouts.weighed import (
    BEING_DRAWN,
    BY_THE_FILE,
    DRAWN_S,
    IN_PASSING,
    INFERRED,
    MOST_SURE,
    PASSES_S,
    Weighing,
)

from .weighing.yards import Expecting, plant, stock

SECTION, LIMIT, MOUTH = "ash-birch", "ash-birch@ash", "ash.dock@down"
ROADS = {
    "ash.main": ("running", "down"),
    "ash.dock": ("siding", "down"),
    "ash.pit": ("siding", "down"),
    "birch.main": ("running", "up"),
}


def weighing(standing: Sequence[tuple[str, str]], rake: Sequence[str] = (), readers: Iterable[str] = ()) -> Weighing:
    """An engine with its rake, and what else stands there."""
    made = plant(ROADS, [("ash.down", "birch.up")], readers)
    found = Weighing(made, stock("e1", "w1", "w2", untagged=["w2"]))
    found.begin(standing, 0.0)
    found.couple("e1", rake)
    return found


def read(tag: str, boundary: str, t: float = 100.0) -> Observation:
    return Observation(7, t, t, f"reader {boundary}", "reader", None, tag, moves=True)


def test_nothing_is_quite_sure_that_nobody_has_looked_at() -> None:
    found = weighing([("e1", "ash.main"), ("w1", "ash.dock")])
    assert (found.belief("w1").sure, found.belief("w1").by) == (BY_THE_FILE, "assumed")
    found.told_stands("w1", "ash.pit", None, 5.0, 3, Expecting())
    belief = found.belief("w1")
    assert (belief.place, belief.sure, belief.by, belief.evidence) == ("ash.pit", 1.0, "told", (3,))


def test_what_is_read_is_seen_and_what_was_before_it_follows_by_order() -> None:
    found = weighing([("w1", "ash.down"), ("w2", "ash.down"), ("e1", "ash.down")], readers=[LIMIT])
    changes = found.take(read("W1", LIMIT), Expecting())
    assert [(c.vehicle, c.goal, c.by) for c in changes if isinstance(c, Crossing)] == [
        ("e1", SECTION, "order"),
        ("w2", SECTION, "order"),
        ("w1", SECTION, "seen"),
    ]
    assert found.read_since(LIMIT, 100.0) and not found.read_since(LIMIT, 100.5)


def test_what_came_into_a_throat_may_have_gone_on_where_no_reader_would_tell() -> None:
    for readers, sure in (([MOUTH], IN_PASSING), (["ash.main@down", MOUTH, "ash.pit@down", LIMIT], MOST_SURE)):
        found = weighing([("w1", "ash.dock"), ("e1", "ash.down")], readers=readers)
        found.take(read("W1", MOUTH), Expecting())
        assert (found.place("w1"), found.belief("w1").sure > IN_PASSING) == ("ash.down", True)
        found.pass_deadline(100.0 + PASSES_S, Expecting())
        assert found.belief("w1").sure > IN_PASSING
        found.take(read("BAD", MOUTH, 101.0 + PASSES_S), Expecting())
        assert found.belief("w1").sure == pytest.approx(sure, abs=0.05)


def test_what_stands_where_others_were_read_since_is_less_sure_than_what_was_read_there_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whatever the hypotheses say."""
    found = weighing([("w1", "ash.down"), ("e1", "ash.down")], ["w1"], [MOUTH])
    monkeypatch.setattr(found.tracker.questions, "places", lambda _: {"ash.dock": 1.0})
    found.take(read("W1", MOUTH, 100.0), Expecting())
    assert found.belief("w1").sure == MOST_SURE
    found.take(read("E1", MOUTH, 101.0), Expecting())
    assert found.belief("w1").sure == INFERRED


def test_where_a_string_of_vehicles_reaches_is_not_sure_while_its_train_moves() -> None:
    """The engine is read at the limit, and the wagon behind it, which nothing has read, may be anywhere up to there."""
    prior = Expecting(kept={"w2"})
    found = weighing([("w2", "ash.main"), ("e1", "ash.main"), ("w1", "ash.dock")], ["w2"], [LIMIT])
    found.take(read("E1", LIMIT), prior)
    assert (found.place("w2"), found.place("e1"), found.leader("w2")) == ("ash.main", SECTION, "e1")
    assert (found.belief("w2").sure, found.belief("w1").sure) == (BEING_DRAWN, BY_THE_FILE)
    found.pass_deadline(100.0 + DRAWN_S, prior)
    assert found.belief("w2").sure > BEING_DRAWN


def test_a_tag_that_is_learned_tells_of_its_vehicle_from_then_on() -> None:
    found = weighing([("e1", "ash.main"), ("w2", "ash.down")], readers=[MOUTH])
    assert not found.knows_tag("04A1")
    assert found.take(read("04A1", MOUTH), Expecting()) == []
    found.learn_tag("04A1", "w2")
    assert found.vehicle_of("04A1") == "w2"
    found.take(read("04A1", MOUTH, 101.0), Expecting())
    assert found.place("w2") == "ash.dock"


def test_a_rake_that_stands_with_its_engine_goes_with_it_and_what_stands_elsewhere_does_not() -> None:
    found = weighing([("w1", "ash.main"), ("e1", "ash.main"), ("w2", "ash.dock")], ["e1", "w1", "w2"])
    assert found.company("e1") == ["e1", "w1"]
    assert (found.leader("w1"), found.leader("w2")) == ("e1", None)


def departed(prior: Expecting, readers: Iterable[str] = ()) -> Weighing:
    """A train has gone into the section, with a wagon of it in doubt; another wagon stands in the dock."""
    found = weighing([("w1", "ash.main"), ("e1", "ash.main"), ("w2", "ash.dock")], ["w1"], readers)
    found.told_stands("e1", SECTION, None, 5.0, 3, prior)
    found.follow("e1", SECTION, 6.0, 4, prior)
    return found


def test_a_train_that_has_departed_has_taken_with_it_what_goes_with_it() -> None:
    found = departed(Expecting(kept={"w1"}))
    assert (found.place("w1"), found.belief("w1").by, found.leader("w1")) == (SECTION, "carried", "e1")
    assert found.place("w2") == "ash.dock"


def test_what_was_to_stay_at_a_station_has_stayed_when_the_train_departs_and_was_left() -> None:
    found = departed(Expecting(kept={"w1"}, goals={"w1": "ash.main"}))
    assert (found.place("w1"), found.leader("w1")) == ("ash.main", None)


def test_what_was_to_be_moved_within_the_station_has_been_moved_where_no_reader_would_have_told() -> None:
    prior = Expecting(shifts={"e1": {"w2": "ash.pit"}})
    assert departed(prior).place("w2") == "ash.pit"
    for mouth in (MOUTH, "ash.pit@down"):
        assert departed(prior, [mouth]).likely("w2") == {"ash.dock": 1.0}


def test_behind_a_train_that_has_left_the_section_all_of_it_has_come_out() -> None:
    found = weighing([("w1", SECTION), ("e1", SECTION)], ["w1"])
    found.told_stands("e1", "birch.main", None, 5.0, 3, Expecting())
    found.told_with("w1", "e1", 5.0, 3)
    found.gather("e1", SECTION, 6.0, 4, Expecting(states={SECTION: "clear"}))
    assert found.place("w1") == "birch.up"
    assert found.belief("w1").by == "carried"


def test_a_train_that_is_told_to_have_arrived_stands_there_whole_and_in_order() -> None:
    found = weighing([("w1", SECTION), ("e1", SECTION), ("w2", SECTION)], ["w1", "w2"])
    found.told_arrived("e1", "birch.main", 5.0, 3, Expecting())
    assert found.line("birch.main") == ("w1", "e1", "w2")
    assert (found.belief("e1").by, found.belief("w1").by) == ("told", "order")


def test_whom_a_vehicle_goes_with_is_as_it_was_told() -> None:
    found = weighing([("w1", "ash.dock"), ("e1", "ash.main")])
    assert found.told_with("w1", "e1", 5.0, 3) == [Joined(5.0, 3, "w1", "e1", "ash.dock")]
    assert (found.leader("w1"), found.drawn_from("w1"), found.belief("w1").by) == ("e1", "ash.dock", "told")
    assert found.told_with("w1", "e1", 6.0, 4) == []
    assert found.told_with("w1", None, 7.0, 5) == [Left(7.0, 5, "w1", "e1", "ash.dock")]
    assert found.leader("w1") is None
