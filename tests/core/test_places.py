"""Where things stand, and in which words: said when place, order, train or the wording of how sure changes."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.core.places import train_of, wording

from .conftest import Session


@pytest.mark.parametrize(
    ("sure", "word"),
    [(1.0, "plain"), (0.95, "plain"), (0.949, "probably"), (0.6, "probably"), (0.599, "unseen"), (0.0, "unseen")],
)
def test_how_sure_is_worded(sure: float, word: str) -> None:
    """From 0.95 plainly, from 0.6 probably, below it was not seen."""
    assert wording(sure) == word


def test_nothing_is_said_where_nothing_has_changed(session: Callable[..., Session]) -> None:
    s = session()
    before = len(s.rows("whereabouts"))
    s.on("ash-main").on("line").off("line").wait(30.0)
    assert len(s.rows("whereabouts")) == before


def test_a_new_order_is_said_of_all_whom_it_concerns(session: Callable[..., Session]) -> None:
    s = session()
    before = len(s.said)
    s.say("stands w4 ash.main 1")
    news = {row["vehicle"]: row["order"] for row in s.said[before:] if row["says"] == "whereabouts"}
    assert news == {"w4": 1, "v1": 2, "w1": 3, "e1": 4}


def test_off_the_layout_there_is_no_order(session: Callable[..., Session]) -> None:
    s = session()
    s.say("stands w2 off")
    row = s.rows("whereabouts", vehicle="w2")[-1]
    assert (row["place"], row["order"], row["train"], row["by"]) == ("off", None, None, "told")


def test_a_vehicle_is_in_the_train_that_its_engine_works(session: Callable[..., Session]) -> None:
    s = session()
    assert {v: train_of(s.state, v) for v in ("e1", "w1", "v1", "w2", "w4")} == {
        "e1": "g1",
        "w1": "g1",
        "v1": "g1",
        "w2": None,
        "w4": None,
    }
