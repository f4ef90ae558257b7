"""Where there is no room for all answers to a question: which of them stay."""

from __future__ import annotations

from math import log

from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.questions import MOST, SORTS, Questions

from .test_questions import assert_sound


def waits_somewhere(hypothesis: Hypothesis, branches: Branches) -> None:
    """Nothing tells on which of many roads an engine waits; unlikely, and on whichever it does, it has a wagon with it that
    was in the dock."""
    for out, chance in ((False, 0.99), (True, 0.01)):
        for road in range(MOST):
            made = hypothesis.branch(log(chance / MOST) - road / 100.0)
            made.stands.put("e1", f"ash.{road}", 1)
            if out:
                made.stands.put("w ash", f"ash.{road}", 1)
            branches.add(made)


def docked(hypothesis: Hypothesis, branches: Branches) -> None:
    hypothesis.stands.set_down([("e1", "ash.down"), ("w ash", "ash.dock")])
    branches.add(hypothesis)


def test_answers_that_nothing_will_tell_apart_do_not_crowd_out_the_one_that_a_reader_may_bear_out() -> None:
    told, untold = Questions(told_of=frozenset(["ash.dock"])), Questions()
    for found in (told, untold):
        found.weigh(docked, 0.0, part=False)
        found.weigh(waits_somewhere, 0.0, part=False)
        assert_sound(found)
        assert [len(question.rows) for question in found.open] == [MOST]
    assert told.places("w ash").keys() == {"ash.dock", "ash.0"}
    assert untold.places("w ash").keys() == {"ash.dock"}


def test_of_more_sorts_than_there_is_room_for_the_likeliest_have_one_each() -> None:
    """As many wagons as there is room for may each have been taken out of the dock, on each of many roads."""

    def taken(hypothesis: Hypothesis, branches: Branches) -> None:
        for wagon in range(MOST):
            for road in range(MOST):
                made = hypothesis.branch(log(0.6) * wagon - road / 1000.0)
                made.stands.put(f"w{wagon}", f"ash.{road}", 1)
                branches.add(made)

    def begun_full(hypothesis: Hypothesis, branches: Branches) -> None:
        hypothesis.stands.set_down([(f"w{wagon}", "ash.dock") for wagon in range(MOST)])
        branches.add(hypothesis)

    found = Questions(told_of=frozenset(["ash.dock"]))
    found.weigh(begun_full, 0.0, part=False)
    found.weigh(taken, 0.0, part=False)
    (question,) = found.open
    out = [next(w for w in range(MOST) if row.stands.place(f"w{w}") != "ash.dock") for row in question.rows]
    assert set(out) == set(range(SORTS))
    assert out.count(0) == MOST - SORTS + 1
