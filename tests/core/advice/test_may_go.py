"""May this train go? The answer to each thing that stands against it, when it changes, and how long it is likely to last.

Sources: check values, section 6, by number; where none is given it is common practice and has no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.advice import may_go

from ..authority_steps import (
    Step,
    flickering_line,
    g1_in,
    g1_in_unproved,
    g1_out,
    g1_shunts,
    lay_at_birch,
    lift,
    r3_out,
    say,
)
from ..conftest import DOCKS, ENDS, RESTS, TRACKS, Row, Session, line
from ..test_anything import RULES, STEPS, railway

ONE, TOK, STAFF, CIRCUIT = RULES
HEAD = "vehicle,from,to,working,call\n"
WAITS = "working,kind,engine,station,road,arrive,depart,rake,wait_for\n"
CROSSING = """g1,goods,e1,ash,main,,19:05,w1 v1,{wait}
g1,goods,e1,birch,main,19:09,,,
r3,goods,e3,birch,loop,,19:01,,
r3,goods,e3,ash,loop,{comes},,,
"""


def last(s: Session, train: str) -> Row:
    """The last answer for a train."""
    return s.rows("may-go", train=train)[-1]


def time_comes(s: Session) -> None:
    """19:05: every train's booked time has come."""
    s.wait(60.0)


def birch_is_free(s: Session) -> None:
    """r3 does not run, and its engine makes room."""
    s.say("cancel r3")
    s.say("stands e3 birch.dock")


def see(detector: str, value: str) -> Step:
    return lambda s: s.see(detector, value)


def wait(seconds: float) -> Step:
    return lambda s: s.wait(seconds)


@dataclass(frozen=True)
class Case:
    what: str
    train: str
    answer: str
    why: str
    steps: tuple[Step, ...] = (time_comes,)
    rule: str = ONE
    more: tuple[str, ...] = ()
    detectors: tuple[str, ...] = (*TRACKS, *ENDS, *DOCKS)
    moves: str = HEAD
    section: str = ""
    source: str = ""


NO_LINE = tuple(d for d in TRACKS if d != "line")
BRIDGE = (see("bridge", "on"), time_comes)
CASES = (
    Case("a clear section at its time", "g1", "yes", "May go: ash-birch is clear.", source="6.2, 6.15"),
    Case("before its time", "g1", "wait", "Not yet: it is booked to leave at 19:02, about 1 min.", (wait(1.0),)),
    Case("the earlier one goes first", "p2", "wait", "Not yet: g1 to go first"),
    Case(
        "not while another is in it",
        "p2",
        "wait",
        "Not yet: g1 to arrive and clear ash-birch",
        (wait(15), g1_out),
        source="6.1",
    ),
    Case("nor against one", "r3", "wait", "Not yet: g1 to arrive and clear ash-birch", (wait(15), g1_out), source="6.3"),
    Case(
        "once it is out complete",
        "p2",
        "yes",
        "May go: ash-birch is clear.",
        (birch_is_free, time_comes, g1_out, g1_in),
        source="6.16",
    ),
    Case(
        "not where its last vehicle is not proved",
        "p2",
        "look",
        "Look first: the last vehicle of g1 was not seen to clear ash-birch.",
        (birch_is_free, time_comes, g1_out, g1_in_unproved),
        source="6.16",
    ),
    Case(
        "an operator has looked",
        "p2",
        "yes",
        "May go",
        (birch_is_free, time_comes, g1_out, g1_in_unproved, say("return ash-birch g1"), say("unmute line")),
    ),
    Case(
        "what is unknown",
        "g1",
        "look",
        "Look first: what line says of ash-birch is unknown (muted).",
        (time_comes, say("mute line")),
    ),
    Case(
        "what nobody explains",
        "g1",
        "look",
        "Look first: line says that something is in ash-birch.",
        (time_comes, flickering_line),
        source="6.19",
    ),
    Case(
        "a wagon stands there",
        "g1",
        "wait",
        "Not yet: w4 stands in ash-birch.",
        (time_comes, say("stands w4 ash-birch"), wait(3)),
        source="6.19",
    ),
    Case("nothing watches it", "g1", "look", "Look first: nothing has proved ash-birch clear", detectors=(*NO_LINE, *ENDS)),
    Case(
        "another has it by word",
        "g1",
        "wait",
        "Not yet: p2 has the section.",
        (time_comes, say("give ash-birch p2")),
        source="6.14",
    ),
    Case(
        "it is to assist",
        "p2",
        "look",
        "Look first: it goes in to assist",
        (birch_is_free, time_comes, g1_out, say("give ash-birch p2 assisting")),
    ),
    Case("a closed direction", "r3", "wait", "Not yet: no train may run up in ash-birch", section='directions = ["down"]\n'),
    # --- tokens
    Case(
        "the token lies here",
        "g1",
        "wait",
        "Not yet: the token is to be taken first; it lies here.",
        rule=TOK,
        more=RESTS,
        source="6.6",
    ),
    Case(
        "it has the token",
        "g1",
        "yes",
        "May go: it has the token, and ash-birch is clear.",
        (time_comes, lift),
        TOK,
        RESTS,
        source="6.7",
    ),
    Case("the token is with another", "p2", "wait", "Not yet: g1 to go first", (time_comes, lift), TOK, RESTS, source="6.7"),
    Case(
        "the token is at the other end",
        "r3",
        "wait",
        "Not yet: the token lies at ash.",
        (say("cancel g1"), say("cancel p2"), time_comes),
        TOK,
        RESTS,
    ),
    Case("a token is only assumed", "g1", "look", "Look first: the token is only assumed to lie at ash.", rule=TOK),
    Case(
        "the staff",
        "g1",
        "wait",
        "Not yet: the staff or a ticket is to be taken first; it lies here.",
        rule=STAFF,
        more=RESTS,
        source="6.8",
    ),
    Case(
        "a ticket",
        "g1",
        "yes",
        "May go: it has the ticket",
        (time_comes, say("give ash-birch g1 ticket")),
        STAFF,
        RESTS,
        source="6.9",
    ),
    Case(
        "a token lifted before the section is proved clear",
        "r3",
        "look",
        "Look first: the last vehicle of g1",
        (
            say("cancel p2"),
            say("stands e2 ash.dock"),
            time_comes,
            lift,
            g1_out,
            g1_in_unproved,
            lay_at_birch,
            say("give ash-birch r3"),
        ),
        TOK,
        RESTS,
    ),
    # --- its way
    Case(
        "the bridge is open",
        "g1",
        "wait",
        "Not yet: ash-birch to be closed and locked; bridge does not prove it.",
        (see("bridge", "off"), time_comes),
        more=("bridge",),
    ),
    Case(
        "nobody knows of the bridge",
        "g1",
        "look",
        "Look first: whether ash-birch is locked is unknown: bridge",
        more=("bridge",),
    ),
    Case("the bridge is closed", "g1", "yes", "May go", BRIDGE, more=("bridge",)),
    Case(
        "its booked road is taken",
        "g1",
        "wait",
        "Not yet: w4 is in the way on birch.main.",
        (say("stands w4 birch.main"), time_comes),
    ),
    Case("work here", "g1", "wait", "Not yet: 1 wagon to lift here.", moves=HEAD + "w2,ash.dock,birch.dock,g1,\n"),
    Case(
        "two things to do",
        "g1",
        "wait",
        "Not yet: 2 wagons to lift here.",
        moves=HEAD + "w2,ash.dock,birch.dock,g1,\nw4,ash.dock,birch.dock,g1,\n",
    ),
)


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
def test_no_answer_grows_stale(rule: str, steps: list[tuple[tuple[str, str] | str, float]]) -> None:
    """Made anew for every train after each event, each is what stood already."""
    s = Session(railway(rule))
    for step, after in steps:
        if isinstance(step, str):
            s.say(step, after)
        elif step[0] in s.railway.plant.detectors:
            s.see(*step, after)
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
