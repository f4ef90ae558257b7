"""The ledger: each thing said once; items opened, updated in place, ended, withdrawn, folded under their cause."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.irregularities import KINDS
from bridge.core.ledger import Claim, Ledger


def claim(cause: str, text: str = "It is so.", follows: str | None = None, **how: Any) -> Claim:
    return Claim("board-lost", cause, {"board": "one"}, text, "Look.", follows=follows, **how)


def said(ledger: Ledger) -> list[dict[str, Any]]:
    return [outcome.as_dict() for outcome in ledger.drain()]


def brief(ledger: Ledger) -> list[tuple[str, str, str]]:
    return [(row["id"], row["status"], row["text"]) for row in said(ledger)]


def test_numbers_count_from_one_and_evidence_is_in_order_once() -> None:
    ledger = Ledger(t=2.5, clock="19:00:00")
    assert [ledger.say("cleared", {"train": "g1"}, (7, None, 3, 7)) for _ in range(2)] == [1, 2]
    row = said(ledger)[0]
    assert row == {"n": 1, "t": 2.5, "clock": "19:00:00", "says": "cleared", "train": "g1", "evidence": [3, 7]}
    assert said(ledger) == []


def test_a_claim_that_stands_is_said_once() -> None:
    ledger = Ledger()
    for _ in range(3):
        ledger.reconcile("boards", "one", [claim("a")])
    assert brief(ledger) == [("i1", "open", "It is so.")]


def test_growing_evidence_alone_is_no_news() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a", evidence=(1,))])
    ledger.reconcile("boards", "one", [claim("a", evidence=(1, 2))])
    assert [row["evidence"] for row in said(ledger)] == [[1]]


@pytest.mark.parametrize("how", [{"text": "It is worse."}, {"because": ("e1",)}, {"level": "danger"}])
def test_a_claim_that_changes_is_updated_in_place(how: dict[str, Any]) -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a")])
    ledger.reconcile("boards", "one", [claim("a", **how)])
    rows = said(ledger)
    assert [(row["id"], row["status"]) for row in rows] == [("i1", "open"), ("i1", "open")]
    assert ledger.counts == {"board-lost": 1}


def test_a_claim_that_nobody_holds_any_more_has_ended() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a")])
    ledger.reconcile("boards", "one", [])
    assert brief(ledger) == [("i1", "open", "It is so."), ("i1", "ended", "It is so.")]


def test_one_rule_and_subject_do_not_end_what_another_claims() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a")])
    ledger.reconcile("boards", "two", [])
    ledger.reconcile("sections", "one", [])
    assert brief(ledger) == [("i1", "open", "It is so.")]


def test_another_event_is_another_item_even_while_the_first_is_open() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a"), claim("b")])
    assert [row[0] for row in brief(ledger)] == ["i1", "i2"]
    ledger.reconcile("boards", "one", [claim("b")])
    assert brief(ledger) == [("i1", "ended", "It is so.")]


def test_what_has_ended_is_not_opened_again_under_its_old_id() -> None:
    ledger = Ledger()
    for claims in ([claim("a")], [], [claim("a")], [claim("a", "It is worse.")]):
        ledger.reconcile("boards", "one", claims)
    assert [row[1] for row in brief(ledger)] == ["open", "ended"]


def test_what_follows_names_its_cause_and_ends_with_it() -> None:
    ledger = Ledger()
    ledger.reconcile("sections", "one", [claim("a"), claim("b", follows="a")])
    assert [row["cause"] for row in said(ledger)] == [None, "i1"]
    ledger.reconcile("sections", "one", [claim("b", follows="a")])
    assert [(row["id"], row["status"]) for row in said(ledger)] == [("i1", "ended"), ("i2", "ended")]


def test_what_was_never_true_is_withdrawn() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a")])
    ledger.withdraw("a", "it came back", (9,))
    ledger.withdraw("a", "it came back", (9,))
    ledger.withdraw("nothing", "", ())
    rows = said(ledger)
    assert [(row["says"], row.get("of"), row.get("why"), row["evidence"]) for row in rows[1:]] == [
        ("corrected", 1, "it came back", [9])
    ]
    ledger.reconcile("boards", "one", [])
    assert said(ledger) == []


def test_only_what_was_said_is_corrected() -> None:
    ledger = Ledger()
    ledger.correct(0, "never said")
    ledger.correct(None, "never said")
    assert said(ledger) == []


def test_a_silent_ledger_says_and_counts_nothing() -> None:
    ledger = Ledger(silent=True)
    assert ledger.say("observed", {}) == 0
    ledger.reconcile("boards", "one", [claim("a")])
    assert (said(ledger), ledger.n, ledger.items) == ([], 0, {})
    ledger.silent = False
    ledger.reconcile("boards", "one", [claim("a")])
    assert brief(ledger) == [("i1", "open", "It is so.")]


def test_what_an_operator_said_of_it_is_kept_to_its_end() -> None:
    ledger = Ledger()
    ledger.reconcile("boards", "one", [claim("a")])
    item = ledger.find("i1")
    assert item is not None and ledger.find("i9") is None
    item.explained = "the plug was out"
    ledger.rewrite(item)
    ledger.reconcile("boards", "one", [])
    assert [(row["status"], row["explained"]) for row in said(ledger)] == [
        ("open", None),
        ("open", "the plug was out"),
        ("ended", "the plug was out"),
    ]


def test_each_kind_has_the_level_of_the_contract() -> None:
    dangers = {
        "section-clash",
        "no-authority",
        "wrong-direction",
        "train-divided",
        "unexplained-occupation",
        "not-proved",
        "rule-failed",
    }
    notes = {"overdue", "wagon-unbooked", "wagon-lost", "tag-unknown", "reports-lost", "reader-weak"}
    notes |= {"detector-noisy", "detector-stuck", "detector-contradicted"}
    for name, kind in KINDS.items():
        assert kind.level == ("danger" if name in dangers else "note" if name in notes else "caution"), name


CLAIMS = st.lists(st.dictionaries(st.sampled_from("abcd"), st.sampled_from(["so", "worse"]), max_size=4), max_size=12)


@given(steps=CLAIMS)
def test_what_is_open_is_what_is_claimed_and_has_never_ended(steps: list[dict[str, str]]) -> None:
    ledger, ended, before = Ledger(), set[str](), dict[str, str]()
    for step in steps:
        ledger.reconcile("boards", "one", [claim(cause, text) for cause, text in step.items()])
        ended |= set(before) - set(step)
        now = {cause: text for cause, text in step.items() if cause not in ended}
        assert {item.claim.cause: item.claim.text for item in ledger.items.values() if item.open} == now
        rows = {(row[0], row[1], row[2]) for row in brief(ledger)}
        new = [cause for cause, text in now.items() if before.get(cause) != text]
        over = [cause for cause in before if cause not in now]
        assert len(rows) == len(new) + len(over)
        before = now
    assert ledger.counts["board-lost"] == ledger.opened == len(ledger.items)
