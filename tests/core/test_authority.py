"""Who may be in a section: every rule of the contract's table of authority, a case each.

Sources: check values, section 6, by the number beside each case: 1 LNER Regulations 1009/1, Absolute Block; 3 Indian
Railways General Rules, absolute block; 6 and 7 on electric tokens; 8 and 11 A. Williams, How It Works; 9 Findlay, Working
and Management of an English Railway, p. 161, as is 12; 10 Isle of Man Railway rules of 1922, rule 87; 14 driver-training
cards, one-train working; 15 BR 30062/1, track circuit block; 16 GERT8000-TS4, 3.6.4, train out of section; 18 who is exempt
from carrying the token; 19 axle counters. Where it says so, the case is common practice and has no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from .conftest import DOCKS, ENDS, RESTS, TOKEN, TRACKS, Session, line

NO_SOURCE = "common practice, no source"
Step = Callable[[Session], object]


def say(words: str) -> Step:
    return lambda s: s.say(words)


def g1_out(s: Session) -> None:
    """g1 goes out of Ash with w1 and v1, complete."""
    s.goods_leaves()


def g1_in(s: Session) -> None:
    """g1 comes in at Birch, complete."""
    s.goods_comes().wait(3.0)


def g1_in_unproved(s: Session) -> None:
    """g1 comes in at Birch; nobody sees its last vehicle, and the section's detector is muted."""
    s.say("mute line")
    s.goods_comes(last=False).wait(40.0)


def g1_shunts(s: Session) -> None:
    """g1 draws out of Ash past the section end, and comes back within seconds."""
    s.on("ash-throat", after=2.0).on("line", after=1.0).read("ash-end", "e1", after=0.2)
    s.wait(4.0).read("ash-end", "e1").off("line", after=0.2).off("ash-throat", after=2.0).wait(3.0)


def p2_out(s: Session) -> None:
    """p2, an engine alone, goes out of Ash."""
    s.on("ash-throat", after=2.0).on("line", after=1.0).read("ash-end", "e2", after=0.2)
    s.off("ash-loop", "ash-throat")


def r3_out(s: Session) -> None:
    """r3, an engine alone, goes out of Birch."""
    s.on("birch-throat", after=2.0).on("line", after=1.0).read("birch-end", "e3", after=0.2)
    s.off("birch-loop", "birch-throat")


def lift(s: Session) -> None:
    """The token is taken from its rest at Ash."""
    s.off("ash-rest").wait(2.0)


def lay_at_birch(s: Session) -> None:
    """The token is laid on its rest at Birch."""
    s.see("birch-rest", f"tag={TOKEN}").wait(1.0)


def lift_at_birch(s: Session) -> None:
    """The token is taken from its rest at Birch."""
    s.off("birch-rest").wait(2.0)


def flickering_line(s: Session) -> None:
    """The section's detector says occupied, and nobody is believed there."""
    s.on("line").wait(30.0)


@dataclass(frozen=True)
class Case:
    """`told`: what was said of authority, in order, behind the session's beginning; `wrong`: the kinds open at the end."""

    what: str
    source: str
    rule: str
    steps: tuple[Step, ...]
    told: tuple[tuple[str | None, str, str], ...]
    wrong: frozenset[str] = frozenset()


ONE, TOK, STAFF, CIRCUIT = "one-train", "token", "staff-and-ticket", "track-circuit"
CLEAR, WEAK, OUT = "section clear", "evidence weak", "train out of section"
CLASH = frozenset({"section-clash", "no-authority"})
CASES = (
    # --- one-train working
    Case("entering a clear section takes it", "6.12", ONE, (g1_out,), (("g1", "given", CLEAR),)),
    Case(
        "it ends when the train is out complete",
        "6.16",
        ONE,
        (g1_out, g1_in),
        (("g1", "given", CLEAR), ("g1", "returned", OUT)),
    ),
    Case("the second train behind it has none", "6.1, 6.14", ONE, (g1_out, p2_out), (("g1", "given", CLEAR),), CLASH),
    Case("the second train towards it has none", "6.1, 6.3", ONE, (g1_out, r3_out), (("g1", "given", CLEAR),), CLASH),
    Case(
        "once the first is out complete the second takes it",
        "6.16",
        ONE,
        (g1_out, g1_in, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    Case(
        "what is reserved is refused to another",
        "6.14",
        ONE,
        (say("give ash-birch p2"), say("give ash-birch g1")),
        (("p2", "given", "told"), ("g1", "refused", "p2 has it")),
    ),
    Case(
        "a return gives it back",
        NO_SOURCE,
        ONE,
        (say("give ash-birch p2"), say("return ash-birch p2"), g1_out),
        (("p2", "given", "told"), ("p2", "returned", "told"), ("g1", "given", CLEAR)),
    ),
    Case("an unknown detector makes it weak", NO_SOURCE, ONE, (say("mute line"), g1_out), (("g1", "given", WEAK),)),
    Case(
        "without proof of the last vehicle the next one's is weak",
        "6.16",
        ONE,
        (g1_out, g1_in_unproved, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", WEAK)),
    ),
    Case(
        "an operator who has looked makes it clear again",
        NO_SOURCE,
        ONE,
        (g1_out, g1_in_unproved, say("return ash-birch g1"), say("unmute line"), p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    Case(
        "what says occupied is not clear, whoever is there",
        "6.14",
        ONE,
        (flickering_line, p2_out),
        (),
        frozenset({"no-authority"}),
    ),
    Case("a shunt gives it back", NO_SOURCE, ONE, (g1_shunts,), (("g1", "given", CLEAR), ("g1", "returned", "shunt"))),
    # --- token
    Case("whoever lifts the token has it", "6.6, 6.7", TOK, (lift, g1_out), (("g1", "given", "token lifted"),)),
    Case("without the token there is none", "6.6", TOK, (g1_out,), (), frozenset({"no-authority"})),
    Case("with the token at the other end there is none", "6.6", TOK, (r3_out,), (), frozenset({"no-authority"})),
    Case(
        "laid down at the far end, it is over",
        "6.7",
        TOK,
        (lift, g1_out, g1_in, lay_at_birch),
        (("g1", "given", "token lifted"), ("g1", "returned", "birch")),
    ),
    Case(
        "the train out of the section still has it",
        NO_SOURCE,
        TOK,
        (lift, g1_out, g1_in),
        (("g1", "given", "token lifted"),),
    ),
    Case(
        "then it can be drawn at that end",
        "6.7",
        TOK,
        (lift, g1_out, g1_in, lay_at_birch, lift_at_birch, r3_out),
        (("g1", "given", "token lifted"), ("g1", "returned", "birch"), ("r3", "given", "token lifted")),
    ),
    Case(
        "one is out at most",
        "6.7",
        TOK,
        (lift, say("give ash-birch p2")),
        (("g1", "given", "token lifted"), ("p2", "refused", "g1 has it")),
    ),
    Case("it can be told", NO_SOURCE, TOK, (say("give ash-birch g1"), g1_out), (("g1", "given", "told"),)),
    Case("a shunt keeps it", NO_SOURCE, TOK, (lift, g1_shunts), (("g1", "given", "token lifted"),)),
    Case(
        "a second train has none, token or not",
        "6.1",
        TOK,
        (lift, g1_out, p2_out),
        (("g1", "given", "token lifted"),),
        CLASH,
    ),
    # --- staff and ticket
    Case(
        "a ticket, while the staff is at this end",
        "6.8",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out),
        (("g1", "given", "told"),),
    ),
    Case(
        "a ticket ends with its train",
        NO_SOURCE,
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in),
        (("g1", "given", "told"), ("g1", "returned", OUT)),
    ),
    Case(
        "no ticket while the staff is at the other end",
        "6.8, 6.9",
        STAFF,
        (say("give ash-birch r3 ticket"),),
        (("r3", "refused", "the staff is not at birch"),),
    ),
    Case(
        "no ticket once the staff has been given",
        "6.11",
        STAFF,
        (lift, say("give ash-birch p2 ticket")),
        (("g1", "given", "token lifted"), ("p2", "refused", "the staff is not at ash")),
    ),
    Case(
        "the last one carries the staff",
        "6.9, 6.10",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in, lift, p2_out),
        (("g1", "given", "told"), ("g1", "returned", OUT), ("p2", "given", "token lifted")),
    ),
    Case(
        "the far end may send nothing until the staff is there",
        "6.9",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in, r3_out),
        (("g1", "given", "told"), ("g1", "returned", OUT)),
        frozenset({"no-authority"}),
    ),
    Case("without staff or ticket there is none", "6.8", STAFF, (g1_out,), (), frozenset({"no-authority"})),
    Case(
        "no tickets where the rule knows none",
        NO_SOURCE,
        ONE,
        (say("give ash-birch g1 ticket"),),
        (("g1", "refused", "this section knows no tickets"),),
    ),
    # --- track circuit block
    Case("all clear lets a train in", "6.15", CIRCUIT, (g1_out,), (("g1", "given", CLEAR),)),
    Case("occupied lets nobody in", "6.15", CIRCUIT, (flickering_line, p2_out), (), frozenset({"no-authority"})),
    Case(
        "nobody against a train let in",
        "6.3",
        CIRCUIT,
        (g1_out, r3_out),
        (("g1", "given", CLEAR),),
        CLASH,
    ),
    Case(
        "nor where its detector is unknown",
        "6.3",
        CIRCUIT,
        (say("mute line"), g1_out, r3_out),
        (("g1", "given", WEAK),),
        CLASH,
    ),
    Case(
        "the next one behind it, once it is out",
        "6.15, 6.16",
        CIRCUIT,
        (g1_out, g1_in, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    # --- assisting, under every rule
    *(
        Case(
            f"an assisting train may follow ({rule})",
            "6.18",
            rule,
            (*first, g1_out, say("give ash-birch p2 assisting"), p2_out),
            (("g1", "given", why), ("p2", "given", "told")),
        )
        for rule, first, why in (
            (ONE, (), CLEAR),
            (TOK, (lift,), "token lifted"),
            (STAFF, (lift,), "token lifted"),
            (CIRCUIT, (), CLEAR),
        )
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}: {case.what}")
def test_the_table_of_authority(case: Case) -> None:
    rests = RESTS if case.rule in (TOK, STAFF) else ()
    session = Session(line(rule=case.rule, detectors=(*TRACKS, *ENDS, *DOCKS, *rests)))
    at_first = len(session.rows("authority"))
    for step in case.steps:
        step(session)
    told = [(row["train"], row["state"], row["why"]) for row in session.rows("authority")[at_first:]]
    assert told == list(case.told)
    assert {row["kind"] for row in session.open()} == case.wrong


def test_without_proof_of_the_last_vehicle_it_is_weak_though_no_detector_is_unknown() -> None:
    """6.16. No detector in the section at all: an operator who has looked is the only proof there can be."""
    for looked, why in ((False, WEAK), (True, CLEAR)):
        s = Session(line(detectors=(*ENDS, "birch-main", "birch-throat")))
        s.read("ash-end", "e1", "w1", "v1").wait(10.0).on("birch-throat").read("birch-end", "e1", "w1").on("birch-main")
        s.off("birch-throat").wait(45.0)
        assert [row["complete"] for row in s.rows("cleared")] == [False]
        if looked:
            s.say("return ash-birch g1")
        s.read("ash-end", "e2")
        assert s.rows("authority", train="p2")[-1]["why"] == why


def test_a_clash_is_the_cause_and_the_missing_authority_follows_from_it(session: Callable[..., Session]) -> None:
    s = session()
    g1_out(s)
    r3_out(s)
    (clash,), (missing,) = s.open("section-clash"), s.open("no-authority")
    assert (clash["train"], clash["trains"], clash["cause"]) == ("r3", ["g1", "r3"], None)
    assert missing["cause"] == clash["id"]


def test_what_is_reserved_by_word_is_nobody_elses() -> None:
    """6.14. Readers alone, so that nothing is moved but by its own tag."""
    s = Session(line(detectors=ENDS))
    s.say("give ash-birch p2")
    s.read("ash-end", "e1", "w1", "v1")
    (missing,) = s.open()
    assert (missing["kind"], missing["train"]) == ("no-authority", "g1")
    assert "p2 has the section" in missing["text"]


def test_a_token_that_nothing_tells_of_is_assumed_where_it_is_needed_first() -> None:
    s = Session(line(rule="token"))  # no rest at either end
    assert [(row["train"], row["state"], row["why"]) for row in s.rows("authority")] == [(None, "returned", "assumed")]
    assert s.state.authorities.tokens["ash-birch"].station == "ash"


def test_the_place_of_a_token_is_said_as_the_session_begins() -> None:
    s = Session(line(rule="token", detectors=(*TRACKS, *ENDS, *RESTS)))
    assert [(row["train"], row["state"], row["why"]) for row in s.rows("authority")] == [(None, "returned", "ash")]


def test_a_token_lifted_where_nobody_is_booked_belongs_to_the_first_that_enters() -> None:
    timetable = (
        "working,kind,engine,station,road,arrive,depart\nr3,goods,e3,birch,loop,,19:20\nr3,goods,e3,ash,loop,19:24,\n"
    )
    s = Session(line(rule="token", detectors=(*TRACKS, *ENDS, *RESTS), timetable=timetable))
    lift(s)
    assert s.rows("authority", state="given") == []
    p2_out(s)  # nobody's working: it is named by its engine
    assert [(row["train"], row["why"]) for row in s.rows("authority", state="given")] == [("e2", "token lifted")]
    assert s.open() == []


def test_a_tag_that_is_no_token_changes_nothing_on_a_rest() -> None:
    s = Session(line(rule="token", detectors=(*TRACKS, *ENDS, *RESTS)))
    before = len(s.rows("authority"))
    s.see("birch-rest", "tag=04B1").wait(2.0)
    assert len(s.rows("authority")) == before
    assert s.state.authorities.tokens["ash-birch"].station == "ash"


def test_wagons_left_in_the_section_are_a_clash() -> None:
    """6.16, 6.19: a split train, its engine out and wagons left."""
    s = Session(line())
    s.say("stands w4 ash-birch")
    s.wait(40.0)
    g1_out(s)
    (clash,) = s.open("section-clash")
    assert (clash["train"], clash["trains"], clash["because"]) == ("g1", ["g1"], ["w4"])


@pytest.mark.parametrize("words", ["give ash-moon g1", "give ash-birch g9", "return ash-moon g1", "return ash-birch e3"])
def test_a_section_or_train_that_is_none_is_answered(session: Callable[..., Session], words: str) -> None:
    s = session()
    said = len(s.rows("authority"))
    assert "is called" in s.say(words) or "not known" in s.state.reply
    assert len(s.rows("authority")) == said
