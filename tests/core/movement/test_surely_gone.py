"""Whether a train that counts as departed has surely gone: each rule with what just shows it, and what just does not.

g1 (e1 w1 v1) has departed from Ash, where it was to lift w2 from the dock; what is believed is told by each test.
"""

from __future__ import annotations

from typing import Any

import pytest

from bridge.core.movement import gone
from bridge.core.presence import Presence
from bridge.core.trains import Phase

from ..believed import Believed
from ..conftest import Session, line

SECTION = "ash-birch"
MOVES = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"
LEFT_N = 10
AWAY, THERE = {SECTION: 0.5, "birch.up": 0.5}, {"ash.main": 1.0}
GOES = {"e1": AWAY, "w1": AWAY, "v1": AWAY}


def departed(at: dict[str, dict[str, float]], last_sign_ago_s: float = 0.0, **told: Any) -> Any:
    """The core where g1 has departed as journal number `LEFT_N` has shown; `told`: what else is told of vehicles."""
    s = Session(line(moves=MOVES)).wait(60.0)
    state, train = s.state, s.state.roster.trains["g1"]
    state.where = Believed(GOES | at, leads=dict.fromkeys(("e1", "w1", "v1"), "e1"), **told)  # type: ignore[assignment]
    train.phase, train.section, train.brought = Phase.IN_SECTION, SECTION, frozenset(("e1", "w1", "v1"))
    train.left, train.left_n, train.left_from, train.sure_at = "ash", LEFT_N, "ash", "ash"
    state.presences[SECTION] = [
        Presence("g1", "e1", SECTION, "ash.down", 40.0, LEFT_N, "e1", state.t - last_sign_ago_s, "e1")
    ]
    return state


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The trains whose departure has been said to be sure."""
    found: list[str] = []
    monkeypatch.setattr(gone.early, "proved_gone", lambda state, train: found.append(train.id))
    monkeypatch.setattr(gone.reckoning, "proved_gone", lambda state, train: None)
    return found


def has_gone(state: Any) -> bool:
    gone.look_again(state, "e1")
    return bool(state.roster.trains["g1"].is_gone)


@pytest.mark.parametrize(("away", "is_gone"), [(0.95, True), (0.94, False)])
def test_its_engine_has_to_be_surely_away(shown: list[str], away: float, is_gone: bool) -> None:
    assert has_gone(departed({"e1": {SECTION: away, "ash.main": 1.0 - away}})) is is_gone
    assert shown == ["g1"] * is_gone


def test_it_is_said_once(shown: list[str]) -> None:
    state = departed({})
    assert has_gone(state)
    assert has_gone(state)
    assert shown == ["g1"]


def test_who_goes_out_anew_shows_it_then(shown: list[str]) -> None:
    state = departed({})
    state.roster.trains["g1"].phase = Phase.OUT
    assert not has_gone(state)
    assert shown == []


@pytest.mark.parametrize(
    ("left_from", "sure_at", "is_gone"),
    [
        ("ash", "ash", True),
        (None, None, True),  # nothing was sure of it before
        ("birch", "birch", False),  # it was surely at Birch, and has never surely been at Ash
        ("birch", "cedar", True),  # and at another since
    ],
)
def test_its_engine_has_surely_been_where_it_left(
    shown: list[str], left_from: str | None, sure_at: str | None, is_gone: bool
) -> None:
    state = departed({})
    train = state.roster.trains["g1"]
    train.left_from, train.sure_at = left_from, sure_at
    assert has_gone(state) is is_gone


@pytest.mark.parametrize(
    ("van_away", "last_sign_ago_s", "is_gone"),
    [(0.6, 0.0, True), (0.59, 0.0, False), (0.0, 19.9, False), (0.0, 20.0, True)],
)
def test_what_goes_with_it_is_probably_away_too_or_nothing_was_heard_for_long(
    shown: list[str], van_away: float, last_sign_ago_s: float, is_gone: bool
) -> None:
    state = departed({"v1": {SECTION: van_away, "ash.main": 1.0 - van_away}}, last_sign_ago_s)
    assert has_gone(state) is is_gone


@pytest.mark.parametrize(("out_at", "is_gone"), [("birch.up", True), (None, False)])
def test_or_it_has_come_out_elsewhere(shown: list[str], out_at: str | None, is_gone: bool) -> None:
    state = departed({"v1": THERE})
    state.presences[SECTION][0].out_at = out_at
    assert has_gone(state) is is_gone


@pytest.mark.parametrize(
    ("vehicle", "by", "n", "is_gone"),
    [
        ("w1", "seen", LEFT_N, False),  # read at Ash as it went or since: its engine may shunt it there
        ("w1", "seen", LEFT_N - 1, True),
        ("w1", "order", LEFT_N, True),
        ("w2", "seen", LEFT_N, False),  # which it was to lift
        ("w3", "seen", LEFT_N, True),  # nothing to it
    ],
)
def test_nothing_of_its_train_was_seen_there_since(shown: list[str], vehicle: str, by: str, n: int, is_gone: bool) -> None:
    state = departed({vehicle: {"ash.dock": 1.0}}, 20.0, by={vehicle: by}, evidence={vehicle: (1, n)})
    assert has_gone(state) is is_gone


def test_what_another_train_is_to_lift_is_nothing_to_it(shown: list[str]) -> None:
    state = departed({"w2": {"ash.dock": 1.0}}, 20.0, evidence={"w2": (LEFT_N,)})
    assert not has_gone(state)
    state.freight.moves[0].train = "p2"
    assert has_gone(state)
