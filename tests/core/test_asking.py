"""A rule that fails is set aside and said to be; the others go on. In tests it raises."""

from __future__ import annotations

import pytest

from bridge.core import asking
from bridge.core.rules import RULES, Rule
from bridge.core.state import State

from .conftest import Session, line


def failing(name: str) -> tuple[Rule, ...]:
    """The rules, one of which raises."""

    def claims(state: State, subject: str) -> list[asking.Claim]:
        raise ZeroDivisionError(f"no {subject}")

    assert name in {rule.name for rule in RULES}
    return tuple(Rule(rule.name, rule.fact, claims) if rule.name == name else rule for rule in RULES)


def test_it_is_set_aside_and_that_is_a_danger(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "RULES", failing("sections"))
    s = Session(line(), strict=False)
    s.goods_leaves()
    (row,) = s.open()
    assert (row["kind"], row["level"], row["rule"]) == ("rule-failed", "danger", "sections")
    assert "ZeroDivisionError" in row["text"]
    assert row["evidence"]
    assert list(s.state.set_aside) == ["sections"]


def test_it_is_said_once_and_the_rest_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "RULES", failing("sections"))
    s = Session(line(), strict=False)
    s.goods_leaves()
    s.see("ash-dock-reader", "tag=04FFFF01").see("ash-dock-reader", "tag=04FFFF01", 3.0)
    assert [row["kind"] for row in s.rows("irregularity")] == ["rule-failed", "tag-unknown"]
    assert [row["train"] for row in s.rows("departed")] == ["g1"]
    s.say("end")
    assert s.rows("session")[-1]["counts"] == {"rule-failed": 1, "tag-unknown": 1}


def test_what_it_had_claimed_is_not_over_because_it_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    s = Session(line(), begin="19:25", strict=False)
    s.goods_leaves()
    s.on("birch-throat").read("birch-end", "e3")
    assert {row["kind"] for row in s.open()} == {"section-clash", "no-authority"}
    monkeypatch.setattr(asking, "RULES", failing("sections"))
    s.read("birch-end", "e3", after=5.0)
    assert {row["kind"] for row in s.open()} == {"section-clash", "no-authority", "rule-failed"}


def test_in_tests_it_raises(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "RULES", failing("sections"))
    with pytest.raises(ZeroDivisionError, match="no ash-birch"):
        Session(line()).goods_leaves()
