"""A verdict finds what was expected, counts what was not, and forgets what was taken back."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.virtual.verdict import held_against

TRUTH: dict[str, Any] = {
    "vehicles": {
        "w1": {"place": "ash.road", "order": 1, "fouls": []},
        "w2": {"place": "ash.siding", "order": 1, "fouls": ["ash.down"]},
    },
    "expected": [
        {
            "kind": "wrong-road",
            "subject": {"train": "g1", "road": "ash.road"},
            "evidence_t": 100.0,
            "due_t": 101.0,
            "may_follow": ["road-blocked"],
        }
    ],
}


def said(n: int, t: float, kind: str = "wrong-road", key: str = "i1", **keys: Any) -> dict[str, Any]:
    row = {"n": n, "t": t, "says": "irregularity", "id": key, "kind": kind, "cause": None, "train": "g1", "road": "ash.road"}
    return {**row, **keys}


def test_found_in_time_late_early_or_missed() -> None:
    def after(*rows: dict[str, Any]) -> float | None:
        return held_against(TRUTH, rows).expected[0].after_due_s

    assert after(said(1, 101.5)) == 0.5
    assert after(said(1, 99.0)) == -2.0
    assert after(said(1, 97.0)) is None  # before it showed: a guess
    assert after(said(1, 101.5, train="g2")) is None
    assert after() is None
    assert held_against(TRUTH, [said(1, 120.0)]).expected[0].is_in_time is False
    assert held_against(TRUTH, [said(1, 111.0)], shift_s=10.0).expected[0].is_in_time is True


def test_what_was_taken_back_was_not_found() -> None:
    rows = [said(1, 101.0), {"n": 2, "t": 105.0, "says": "corrected", "of": 1}]
    verdict = held_against(TRUTH, rows)
    assert verdict.expected[0].after_due_s is None
    assert verdict.besides == ()


@pytest.mark.parametrize(
    ("row", "counts"),
    [
        (said(2, 150.0, "overdue", "i2"), True),
        (said(2, 150.0, "road-blocked", "i2"), False),  # may follow
        (said(2, 150.0, "overdue", "i2", cause="i1"), False),  # folded
        (said(2, 150.0, "wrong-road", "i2"), True),  # said a second time under another id
    ],
)
def test_what_else_was_said(row: dict[str, Any], counts: bool) -> None:
    verdict = held_against(TRUTH, [said(1, 101.0), row])
    assert bool(verdict.besides) == counts


def test_whereabouts_are_judged_by_the_last_word_and_what_hangs_over_counts_for_both() -> None:
    rows = [
        {"n": 1, "t": 1.0, "says": "whereabouts", "vehicle": "w1", "place": "ash.siding"},
        {"n": 2, "t": 2.0, "says": "whereabouts", "vehicle": "w1", "place": "ash.road"},
        {"n": 3, "t": 2.0, "says": "whereabouts", "vehicle": "w2", "place": "ash.down"},
    ]
    assert held_against(TRUTH, rows).misplaced == {}
    assert held_against(TRUTH, rows[:1]).misplaced == {"w1": ("ash.road", "ash.siding"), "w2": ("ash.siding", None)}
