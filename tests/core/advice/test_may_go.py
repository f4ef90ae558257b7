"""May this train go? The answer to each thing that stands against it, when it changes, and how long it is likely to last.

Sources: check values, section 6, by number; where none is given it is common practice and has no source.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bridge.core.advice import may_go

from ..authority_steps import (
    g1_out,
    g1_shunts,
    r3_out,
)
from ..conftest import ENDS, RESTS, TRACKS, Session, line
from ..test_anything import RULES, STEPS, railway, take
from .may_go_cases import CASES, CROSSING, STAFF, TOK, WAITS, Case, last


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.what)
def test_the_answer(case: Case) -> None:
    detectors = (*case.detectors, *case.more)
    s = Session(line(rule=case.rule, detectors=detectors, moves=case.moves, section=case.section))
    for step in case.steps:
        step(s)
    found = last(s, case.train)
    assert (found["answer"], found["why"][: len(case.why)]) == (case.answer, case.why)
    assert found["why"].endswith(" The crew decides.")
    assert found["section"] == "ash-birch"


def crossing(wait: str = "", comes: str = "19:05") -> Session:
    files = {"timetable": WAITS + CROSSING.format(wait=wait, comes=comes)}
    files["whereabouts"] = "v1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\ne3,birch.loop,1\n"
    files["whereabouts"] = "vehicle,road,order\n" + files["whereabouts"]
    return Session(line(section="minutes = { goods = 4 }\n", **files), begin="19:00")


@pytest.mark.parametrize(("wait", "comes"), [("r3", ""), ("", "19:05"), ("", "19:04")])
def test_a_train_waits_for_the_crossing_as_it_is_booked(wait: str, comes: str) -> None:
    s = crossing(wait, comes)
    s.wait(76.0)
    assert last(s, "g1")["why"].startswith("Not yet: r3 to arrive and clear, about ")
    r3_out(s)
    runs_s = 180 if comes == "19:04" else 240  # and as much longer as e3 is of the section's length
    assert last(s, "g1")["why"].startswith(f"Not yet: r3 to arrive and clear ash-birch, about {runs_s // 60} min.")
    assert last(s, "g1")["seconds"] == pytest.approx(runs_s * 1.03, abs=4.0)
    s.on("ash-throat", after=40.0).read("ash-end", "e3", after=0.2).off("line").on("ash-loop").off("ash-throat").wait(5.0)
    assert last(s, "g1")["answer"] == "yes"


@pytest.mark.parametrize(("wait", "comes"), [("", ""), ("", "19:06")])
def test_who_is_booked_to_come_later_has_no_order_before_it(wait: str, comes: str) -> None:
    """But r3 was told first that it may go."""
    s = crossing(wait, comes)
    s.wait(76.0)
    assert last(s, "g1")["why"] == "Not yet: r3 may go first. The crew decides."
    s.say("give ash-birch g1")
    assert last(s, "g1")["answer"] == "yes"


def test_of_two_that_might_go_one_may_until_the_other_is_given_the_section() -> None:
    """6.1. No order is booked between them: r3, whose time comes first, is told first."""
    s = crossing(comes="19:06")
    s.wait(76.0)
    assert (last(s, "r3")["answer"], last(s, "g1")["why"]) == ("yes", "Not yet: r3 may go first. The crew decides.")
    s.say("give ash-birch g1")
    assert (last(s, "r3")["why"], last(s, "g1")["answer"]) == ("Not yet: g1 has the section. The crew decides.", "yes")
    s.say("return ash-birch g1")
    s.say("give ash-birch r3")
    assert (last(s, "r3")["answer"], last(s, "g1")["answer"]) == ("yes", "wait")
    s.say("cancel r3")
    s.say("return ash-birch r3")
    assert last(s, "g1")["answer"] == "yes"


def test_who_is_cancelled_is_waited_for_no_more() -> None:
    s = crossing("r3")
    s.wait(76.0)
    s.say("cancel r3")
    assert last(s, "g1")["answer"] == "yes"


def test_it_is_said_when_it_changes_and_not_for_each_second(session: Callable[..., Session]) -> None:
    s = session()
    s.wait(14.9)
    assert [row["answer"] for row in s.rows("may-go", train="g1")] == ["wait"]
    s.wait(0.2)
    assert [row["answer"] for row in s.rows("may-go", train="g1")] == ["wait", "yes"]
    s.wait(120.0)
    assert len(s.rows("may-go", train="g1")) == 2


def test_a_stopped_clock_keeps_it_waiting(session: Callable[..., Session]) -> None:
    s = session()
    s.say("stop-clock")
    s.wait(60.0)
    assert last(s, "g1")["answer"] == "wait"
    s.say("go-on")
    s.wait(16.0)
    assert last(s, "g1")["answer"] == "yes"


def test_the_page_counts_down_what_was_said_once(session: Callable[..., Session]) -> None:
    s = session()
    told = last(s, "g1")
    s.on("birch-neck", after=10.0)
    shown = may_go.seconds(s.state, s.state.advice["g1"])
    assert shown is not None
    assert shown == told["seconds"] - 40


def test_a_train_that_goes_out_does_not_make_its_own_answer_flicker(session: Callable[..., Session]) -> None:
    s = session()
    s.wait(20.0)
    g1_out(s)
    assert [row["answer"] for row in s.rows("may-go", train="g1")] == ["wait", "yes"]


def test_a_shunt_out_and_back_is_not_told_again(session: Callable[..., Session]) -> None:
    s = session()
    s.wait(20.0)
    g1_shunts(s)
    assert [row["answer"] for row in s.rows("may-go", train="g1")] == ["wait", "yes"]


@settings(max_examples=60, deadline=None)
@given(rule=st.sampled_from(RULES), steps=STEPS)
@example(rule="one-train", steps=[(("birch-neck", "on"), 40.0), ("return ash-birch r3", 1.0), ("arrive r3 ash.loop", 0.0)])
def test_no_answer_grows_stale(rule: str, steps: list[tuple[tuple[str, str] | str, float]]) -> None:
    """Made anew for every train after each event, each is what stood already."""
    s = Session(railway(rule))
    for step, after in steps:
        take(s, step, after)
        if not s.state.running:
            continue
        stood = {train: (one.answer, one.sense) for train, one in s.state.advice.items()}
        s.state.unadvised.update(dict.fromkeys(s.state.roster.trains))
        may_go.after(s.state)
        assert {train: (one.answer, one.sense) for train, one in s.state.advice.items()} == stood, step
        s.state.ledger.drain()


def test_every_rule_of_working_is_asked_of_the_same_judge() -> None:
    """What entering would come to, and the answer, agree: `yes` is never said where authority would be refused."""
    for rule in RULES:
        s = Session(line(rule=rule, detectors=(*TRACKS, *ENDS, *RESTS) if rule in (TOK, STAFF) else (*TRACKS, *ENDS)))
        s.wait(20.0)
        answer = last(s, "g1")["answer"]
        g1_out(s)
        assert bool(s.open("no-authority")) is (answer != "yes"), rule
