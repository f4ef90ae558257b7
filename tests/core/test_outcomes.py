"""What is said, held against the contract's tables: every key of a row, none that is not its own, words from its lists."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bridge.core.irregularities import KINDS
from bridge.core.outcomes import Outcome

from ..recordings.said import all_said

RECORDINGS = Path(__file__).parents[1] / "recordings"
COMMON = {"n", "t", "clock", "says", "evidence"}
ROWS = {
    "observed": {"detector", "state", "tag"},
    "departed": {"train", "station", "road", "booked_road", "late"},
    "arrived": {"train", "station", "road", "booked_road", "late"},
    "entered": {"train", "section", "complete"},
    "cleared": {"train", "section", "complete"},
    "authority": {"section", "train", "state", "why"},
    "may-go": {"train", "section", "answer", "why", "seconds"},
    "lifted": {"vehicle", "road", "train", "booked", "sure"},
    "set-out": {"vehicle", "road", "train", "booked", "sure"},
    "move": {"vehicle", "from", "to", "train", "state", "sure"},
    "irregularity": {"id", "kind", "level", "status", "text", "do", "because", "cause", "explained"},
    "whereabouts": {"vehicle", "place", "order", "fouls", "train", "sure", "by"},
    "corrected": {"of", "why"},
    "session": {"state", "counts"},
}
SUBJECTS = {
    "section-clash": {"section", "train", "trains"},
    "no-authority": {"section", "train"},
    "wrong-direction": {"section", "train"},
    "train-divided": {"section", "train"},
    "unexplained-occupation": {"section", "road"},
    "not-proved": {"section", "road", "throat", "train", "detector"},
    "clash-ahead": {"section", "trains"},
    "deadlock": {"trains"},
    "early-departure": {"train"},
    "road-blocked": {"train", "road"},
    "overdue": {"train"},
    "wrong-road": {"train", "road"},
    "overfull-road": {"road", "fouls"},
    "set-out-forgotten": {"train", "vehicle", "road"},
    "lift-missed": {"train", "vehicle", "road"},
    "wagon-misplaced": {"vehicle", "road"},
    "tag-unknown": {"tag", "detector"},
    "board-lost": {"board"},
    "reports-lost": {"board"},
    "wagon-lost": {"vehicle"},
    "wagon-unbooked": {"vehicle"},
    "reader-weak": {"detector"},
    "detector-noisy": {"detector"},
    "detector-stuck": {"detector"},
    "detector-contradicted": {"detector"},
    "rule-failed": {"rule"},
}
WORDS = {
    ("observed", "state"): {"occupied", "clear", "unknown", "passed", "on", "off", "proved", "not-proved", None},
    ("authority", "state"): {"given", "returned", "refused"},
    ("may-go", "answer"): {"yes", "wait", "look"},
    ("move", "state"): {"booked", "in-train", "done", "failed", "carried-over"},
    ("irregularity", "level"): {"danger", "caution", "note"},
    ("irregularity", "status"): {"open", "ended"},
    ("whereabouts", "by"): {"seen", "carried", "order", "absence", "told", "assumed"},
    ("session", "state"): {"started", "ended", "stopped", "going-on"},
}


@cache
def everything() -> list[dict[str, Any]]:
    """All that is said of all recordings."""
    return [row for path in sorted(RECORDINGS.glob("*.capture")) for row in all_said(path.read_text(encoding="utf-8"))]


def test_every_row_has_its_keys_and_no_others() -> None:
    for row in everything():
        own = ROWS[row["says"]] | (SUBJECTS[row["kind"]] if row["says"] == "irregularity" else set())
        assert set(row) - {"happened"} == COMMON | own, row


def test_every_word_is_the_contracts() -> None:
    for row in everything():
        for (says, key), words in WORDS.items():
            if row["says"] == says:
                assert row[key] in words, row


def test_the_recordings_say_everything_that_the_core_can_say() -> None:
    assert {row["says"] for row in everything()} >= set(ROWS) - {"may-go"}


def test_roads_are_named_with_their_station_and_probabilities_are_such() -> None:
    for row in everything():
        for key in ("road", "booked_road", "from", "to"):
            assert row.get(key) is None or "." in row[key], row
        assert 0.0 <= row.get("sure", 0.0) <= 1.0


def test_evidence_is_journal_numbers_in_order() -> None:
    for row in everything():
        assert row["evidence"] == sorted(set(row["evidence"])), row
        assert all(isinstance(n, int) and n >= 1 for n in row["evidence"]), row


def test_what_happened_happened_before_it_was_said() -> None:
    for row in everything():
        assert row.get("happened", 0.0) <= row["t"], row


@pytest.mark.parametrize("says", ["lifted", "set-out", "arrived", "departed", "cleared", "corrected"])
def test_what_is_said_of_trains_rests_on_something(says: str) -> None:
    assert [row for row in everything() if row["says"] == says and not row["evidence"]] == []


def test_every_irregularity_says_what_to_do() -> None:
    for row in everything():
        if row["says"] == "irregularity":
            assert row["text"].endswith("."), row
            assert row["do"].endswith("."), row


def test_the_table_of_kinds_is_the_contracts() -> None:
    assert {name: set(kind.keys) for name, kind in KINDS.items()} == SUBJECTS


def test_happened_is_left_out_where_nothing_happened_earlier() -> None:
    assert "happened" not in Outcome(1, 2.0, None, "cleared", (), {"train": "g1"}).as_dict()
    assert Outcome(1, 2.0, None, "cleared", (), {}, 1.5).as_dict()["happened"] == 1.5
    json.dumps(Outcome(1, 2.0, "19:00:00", "cleared", (3,), {"train": "g1"}).as_dict())
