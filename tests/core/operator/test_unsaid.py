"""A word taken back: all stands as if it had not been said, and what had been said of it is corrected.

The judge is a second session, in which something that is no word was told in the place of the word and of its undo.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.retold import hindsight, past
from bridge.core.view import view
from bridge.wire.records import Said

from ..conftest import Session
from ..test_anything import READINGS, RULES, STEPS, WORDS, railway, take

NOTHING = "dance"
LASTING = ("begin", "stop-clock", "go-on", "undo", NOTHING)
EVERY = [words for words in WORDS if words.split()[0] not in LASTING]


def drawn(s: Session) -> dict[str, Any]:
    """All that a page is shown but the account of what was told, and the names and histories of irregularities: an item that
    came up by the word and is withdrawn stays in the list of those that have ended."""
    found = view(s.state)
    del found["told"]
    items = [row for row in found.pop("irregularities") if row["status"] == "open"]
    told = ("kind", "level", "text", "do", "explained", "acknowledged", "verdict", "places", "t")
    rows = sorted(str([row[key] for key in told]) for row in items)
    return {**found, "open": rows, "likely": {v: s.state.where.likely(v) for v in s.railway.stock} if s.state.where else {}}


def assert_alike(one: Session, other: Session) -> None:
    ones, others = drawn(one), drawn(other)
    for part in ones:
        assert ones[part] == others[part], part


def told_and_not(rule: str, before: list[Any], words: str, after: list[Any]) -> tuple[Session, Session]:
    """A session in which words are told and taken back, and one in which they are not."""
    with_it, without = Session(railway(rule)), Session(railway(rule))
    for s, told in ((with_it, words), (without, NOTHING)):
        for step, seconds in before:
            take(s, step, seconds)
        s.say(told)
        n = s.n
        for step, seconds in after:
            take(s, step, seconds)
        s.say(f"undo {n}" if told is not NOTHING else NOTHING)
    return with_it, without


@pytest.mark.parametrize("words", EVERY)
def test_each_word_is_taken_back_whole(words: str) -> None:
    with_it, without = told_and_not("one-train", [], words, [(("line", "on"), 1.0), (("ash-end", "tag=04A1"), 0.5)])
    assert with_it.state.reply.endswith(f"is taken back, as if it had not been said: {words}")
    assert_alike(with_it, without)


SHORT = st.lists(st.tuples(READINGS, st.sampled_from([0.2, 1.0, 12.0])), max_size=8)


@settings(max_examples=40, deadline=None)
@given(rule=st.sampled_from(RULES), before=STEPS, words=st.sampled_from(EVERY), after=SHORT, later=SHORT)
def test_whatever_happened_around_it(rule: str, before: list[Any], words: str, after: list[Any], later: list[Any]) -> None:
    before = [step for step in before if not isinstance(step[0], str) or step[0].split()[0] != "undo"]
    with_it, without = told_and_not(rule, before, words, after)
    for s in (with_it, without):
        for step, seconds in later:
            take(s, step, seconds)
        s.wait(60.0)
    assert_alike(with_it, without)


def test_a_lift_is_taken_back(session: Callable[..., Session]) -> None:
    s = session()
    s.say("lifts g1 w2")
    assert s.state.where is not None and s.state.where.leader("w2") == "e1"
    s.say(f"undo {s.n}")
    assert s.state.where.leader("w2") is None


def test_what_followed_from_a_word_taken_back_is_corrected() -> None:
    s = Session(railway("one-train"))
    s.say("arrive g1 birch.main")  # it has gone nowhere
    followed = [row["n"] for says in ("departed", "entered", "arrived", "irregularity") for row in s.rows(says, train="g1")]
    s.say(f"undo {s.n}")
    corrected = {row["of"]: (row["why"], row["evidence"]) for row in s.rows("corrected")}
    assert len(followed) == 4
    assert [corrected[n] for n in followed] == [("the word that told so is taken back", [s.n])] * 4
    assert s.open() == []


def test_what_was_said_by_a_word_taken_back_is_said_again_once_it_really_happens() -> None:
    s = Session(railway("one-train"))
    s.say("arrive g1 birch.main")  # it has gone nowhere, and has missed no lift
    s.say(f"undo {s.n}")
    assert s.open() == []
    s.say("arrive g1 birch.main", 30.0)
    assert [row["kind"] for row in s.open()] == ["lift-missed"]
    s.say(f"undo {s.n}")
    s.say("arrive g1 birch.main", 30.0)
    assert [row["kind"] for row in s.open()] == ["lift-missed"]
    assert len({row["id"] for row in s.rows("irregularity")}) == 3


def test_the_later_word_stands_where_the_earlier_is_taken_back(session: Callable[..., Session]) -> None:
    s = session()
    for who, words in (("ann", "stands w2 birch.main"), ("bo", "stands w2 birch.loop")):
        s.wait(1.0).take(Said(s.t, who, words))
    bo, ann = view(s.state)["told"][:2]
    assert [(row["who"], row["about"], row["can_undo"]) for row in (ann, bo)] == [
        ("ann", ["w2"], True),
        ("bo", ["w2"], True),
    ]
    s.wait(1.0).take(Said(s.t, "bo", f"undo {ann['n']}"))
    assert s.state.where is not None and s.state.where.place("w2") == "birch.loop"
    ann = view(s.state)["told"][1]
    assert (ann["undone_by"], ann["undone_who"], ann["can_undo"]) == (s.n, "bo", False)
    s.say(f"undo {bo['n']}")
    assert s.state.where.place("w2") == "ash.dock"


def test_a_whole_rake_of_tags_is_one_word_and_one_undo(session: Callable[..., Session]) -> None:
    s = session()
    for tag in ("04FF01", "04FF02"):
        s.see("ash-dock-reader", f"tag={tag}")
    drawn_now = view(s.state)
    assert [row["tag"] for row in drawn_now["tags_read"]] == ["04FF01", "04FF02"]
    assert s.say("tag 04FF01 w2 04FF02 w3") == "Tag 04FF01 belongs to w2, and 1 more as told."
    n = s.n
    drawn_now = view(s.state)
    assert ("04FF01" in drawn_now["vehicles"]["w2"]["tags"], drawn_now["strange_tags"]) == (True, [])
    assert drawn_now["told"][0]["about"] == ["w2", "w3"]
    s.say(f"undo {n}")
    drawn_now = view(s.state)
    assert all(tag not in drawn_now["vehicles"][v]["tags"] for v in ("w2", "w3") for tag in ("04FF01", "04FF02"))
    assert [row["tag"] for row in drawn_now["strange_tags"]] == ["04FF01", "04FF02"]


def test_each_tag_is_kept_once_where_its_reader_reads_it_on_end_and_the_last_are_kept(
    session: Callable[..., Session],
) -> None:
    s = session()
    s.read("ash-dock-reader", "w1", "w1", "w2").read("birch-dock-reader", "w2")
    assert [row["tag"] for row in view(s.state)["tags_read"]] == ["04B1", "04B2", "04B2"]
    for _ in range(60):
        s.read("ash-dock-reader", "w1", "w2", after=0.4)
    assert len(view(s.state)["tags_read"]) == 80


def test_what_is_too_old_is_taken_back_by_its_opposite_or_not_at_all(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(past, "WINDOW_S", 10.0)
    s = session()
    s.say("stands w2 birch.main")
    stands = s.n
    s.say("lifts g1 w3")
    lifts = s.n
    for _ in range(60):
        s.on("line").off("line")
    assert [row["can_undo"] for row in view(s.state)["told"] if row["n"] in (stands, lifts)] == [False, True]
    assert s.say(f"undo {stands}") == f"Number {stands} is taken back from now on. w2 stands on ash.dock."
    assert view(s.state)["told"][1]["undone_by"] == s.n
    before = drawn(s)["vehicles"]["w3"]
    assert s.say(f"undo {lifts}") == (
        f"Number {lifts} cannot be undone: too much has happened since. Tell what stands instead."
    )
    assert drawn(s)["vehicles"]["w3"] == before


def test_what_cannot_be_taken_back_says_why(session: Callable[..., Session]) -> None:
    s = session()
    begin = s.n
    assert s.say(f"undo {begin}").endswith("the session has begun for everybody. End it, and begin another.")
    s.say("mute line")
    mute = s.n
    s.say(f"undo {mute}")
    undo = s.n
    assert s.say(f"undo {mute}").endswith(f"it has been taken back already, by number {undo}.")
    assert s.say(f"undo {undo}").endswith("it is no word told of late. Tell what stands instead.")


def test_where_the_past_cannot_be_told_again_the_session_goes_on(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    s = session(strict=False)
    s.say("lifts g1 w2")
    n = s.n

    def fails(*_: Any) -> None:
        raise ValueError("planted")

    monkeypatch.setattr(hindsight, "_taken_again", fails)
    assert "cannot be undone" in s.say(f"undo {n}")
    assert [row["kind"] for row in s.open()] == ["rule-failed"]
    assert s.state.where is not None and s.state.where.leader("w2") == "e1"
    monkeypatch.undo()
    s.say("lifts g1 w3")
    assert s.state.where.leader("w3") == "e1"
