"""Who may be in a section: the table of authority, and what is said beside it; numbers are those of its sources."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ..authority_cases import CASES, CLEAR, STAFF, TOK, WEAK, Case, g1_out, lift, p2_out, r3_out
from ..conftest import DOCKS, ENDS, RESTS, TRACKS, Session, line


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
