"""What is put off is weighed when it is due: behind a train that stands across a limit, and in a throat that went quiet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pytest

from bridge.core.conditioning import Observation
from bridge.core.whereabouts.weighing.tracker import CLOSES_S, FOULED_S, LONGEST_S, SETTLES_S, Tracker

from .yards import Expecting, plant, stock

SECTION, LIMIT, T = "ash-birch", "ash-birch@birch", 100.0
ROADS = {"birch.main": ("running", "up"), "birch.loop": ("loop", "up"), "birch.dock": ("siding", "up")}


def tracker(standing: Sequence[tuple[str, str]], readers: Iterable[str] = (LIMIT,)) -> Tracker:
    made = plant(ROADS, [("ash.down", "birch.up")], readers, ["birch.up"])
    found = Tracker(made, stock("e1", "w1", "w2"))
    found.begin(standing, 0.0)
    return found


def read(vehicle: str, boundary: str) -> Observation:
    return Observation(1, T, T, f"reader {boundary}", "reader", None, vehicle.upper(), moves=True)


def cleared(t: float) -> Observation:
    return Observation(2, t, t, "track birch.up", "track", "clear", moves=True)


def test_while_a_train_stands_across_the_limit_the_rest_of_it_may_still_come() -> None:
    """What was not read behind its engine may have followed unread only once the throat says occupied no more."""
    prior = Expecting(states={"birch.up": "occupied"})
    found = tracker([("w1", SECTION), ("e1", SECTION)])
    found.take(read("e1", LIMIT), prior)
    found.pass_deadline(T + CLOSES_S, prior)
    assert found.questions.places("w1") == {SECTION: 1.0}
    prior.states = {"birch.up": "unknown"}
    found.pass_deadline(T + 2 * CLOSES_S, prior)
    assert found.questions.places("w1")["birch.up"] > 0.1


def test_where_the_throat_does_not_say_occupied_the_rest_is_not_waited_for() -> None:
    found = tracker([("w1", SECTION), ("e1", SECTION)])
    found.take(read("e1", LIMIT), Expecting())
    found.pass_deadline(T + CLOSES_S, Expecting())
    assert found.questions.places("w1")["birch.up"] > 0.1


def in_the_throat(prior: Expecting, after_s: float) -> float:
    """How likely an engine is there still that was read coming into it from the dock, and not heard of since."""
    found = tracker([("e1", "birch.dock")], ["birch.dock@up"])
    found.take(read("e1", "birch.dock@up"), prior)
    found.pass_deadline(T + after_s, prior)
    return found.questions.places("e1").get("birch.up", 0.0)


def test_what_was_last_seen_in_a_throat_has_gone_on_once_it_has_been_quiet_there_for_long() -> None:
    assert in_the_throat(Expecting(), SETTLES_S - 1.0) > 0.5 > in_the_throat(Expecting(), SETTLES_S)


def test_in_a_throat_that_still_says_occupied_it_is_believed_longer() -> None:
    """But not for ever: something else may foul it."""
    prior = Expecting(states={"birch.up": "occupied"})
    at_first = in_the_throat(prior, 1.0)
    assert in_the_throat(prior, SETTLES_S) == in_the_throat(prior, FOULED_S - 1.0) == at_first
    assert at_first > in_the_throat(prior, FOULED_S) > in_the_throat(Expecting(), SETTLES_S)


def between(times: Sequence[float], said_again_t: float | None = None, echo_t: float | None = None) -> float:
    """How likely a wagon without a tag has come in between two others, where the engine and these are read at these times,
    and once more, or by another reader."""
    made = plant(ROADS, [("ash.down", "birch.up")], [LIMIT, "birch.dock@up"], ["birch.up"])
    found = Tracker(made, stock("e1", "w1", "w2", "w3", untagged=["w2"]))
    found.begin([(vehicle, SECTION) for vehicle in ("w3", "w2", "w1", "e1")], 0.0)
    prior = Expecting(states={"birch.up": "occupied"})
    reads = [(t, vehicle, LIMIT) for t, vehicle in zip(times, ("e1", "w1", "w3"), strict=True)]
    if said_again_t is not None:
        reads.append((said_again_t, "w1", LIMIT))
    if echo_t is not None:
        reads.append((echo_t, "e1", "birch.dock@up"))
    for t, vehicle, at in sorted(reads):
        found.take(replace(read(vehicle, at), t=t, happened_t=t), prior)
    return 1.0 - found.questions.places("w2").get(SECTION, 0.0)


def test_the_times_of_reads_tell_whether_a_wagon_without_a_tag_was_between() -> None:
    assert between([T, T + 1.0, T + 3.0]) > 0.95
    assert between([T, T + 1.0, T + 2.0]) < between([T, T + 1.0, T + 3.0])


def test_what_is_said_once_more_or_by_another_reader_is_not_one_of_them() -> None:
    plain = between([T, T + 1.0, T + 3.0])
    assert between([T, T + 1.0, T + 3.0], said_again_t=T + 1.7) == pytest.approx(plain)
    assert between([T, T + 1.0, T + 3.0], echo_t=T + 0.05) == pytest.approx(plain, abs=0.05)


STANDING = [("w1", "birch.dock"), ("e1", "birch.main"), ("w2", "birch.loop")]
TO_LIFT = Expecting(states={"birch.up": "clear"}, lifted_by={"w1": "e1"}, call_roads={"e1": "birch.main"})


def test_what_a_train_is_to_lift_may_have_been_drawn_off_where_nothing_would_have_told() -> None:
    found = tracker(STANDING)
    found.take(cleared(T), TO_LIFT)
    places = found.questions.places("w1")
    assert places["birch.dock"] > places["birch.main"] > 0.1
    assert found.questions.places("w2") == {"birch.loop": 1.0}
    found.take(cleared(T + 30.0), TO_LIFT)
    assert found.questions.places("w1") == places, "that is weighed once, however often something is done there"


def test_where_a_reader_would_have_told_or_its_train_is_elsewhere_nothing_has_been_drawn_off() -> None:
    for standing, readers in ((STANDING, ["birch.dock@up"]), ([STANDING[0], ("e1", SECTION)], [LIMIT])):
        found = tracker(standing, readers)
        found.take(cleared(T), TO_LIFT)
        assert found.questions.places("w1") == {"birch.dock": 1.0}


def test_it_is_not_waited_for_longer_than_a_train_stands_there() -> None:
    prior = Expecting(states={"birch.up": "occupied"})
    found = tracker([("w1", SECTION), ("e1", SECTION)])
    found.take(read("e1", LIMIT), prior)
    found.pass_deadline(T + LONGEST_S + CLOSES_S, prior)
    assert found.questions.places("w1")[SECTION] < 1.0
