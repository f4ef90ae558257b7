"""Whether a train that went into a section is plainly there still: each rule with what just shows it, and what does not.

g1 (e1 w1 v1) went out of Ash at 10 s; it is booked to take four railway minutes, which are 60 s, to Birch. What is believed
is told by each test. That one train is in a section at once: check values 6.1.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bridge.core.facts import Entry, Short
from bridge.core.line import inside
from bridge.core.presence import Presence

from ..believed import Believed
from ..conftest import Session, line

SECTION, OUT_T = "ash-birch", 10.0
AT_ASH = ("ash-end", "ash-throat")
ROADS = (*AT_ASH, "birch-main", "birch-loop")
IN = {"e1": {SECTION: 1.0}}


def gone_in(
    detectors: tuple[str, ...] = AT_ASH, until_t: float = 70.0, on_t: float | None = None, **how: Any
) -> tuple[Any, Presence]:
    """The core at this moment, and the stay of g1, departed, in the section, whose detector has come on at `on_t`. `how`:
    what else is told of that stay."""
    s = Session(line(detectors=detectors))
    if on_t is not None:
        s.on("line", after=on_t - s.t)
    state = s.wait(until_t - s.t).state
    state.t = until_t
    state.where = Believed(IN, leads={"e1": "e1"})  # type: ignore[assignment]
    out_s = state.clock.session_s(OUT_T)
    presence = Presence("g1", "e1", SECTION, "ash.down", OUT_T, 1, "e1", OUT_T, "e1", out_s, departed=True)
    for name, value in how.items():
        setattr(presence, name, value)
    state.presences[SECTION] = [presence]
    return state, presence


@pytest.mark.parametrize(
    ("detectors", "until_t", "may_have_left"),
    [
        (AT_ASH, 70.0, True),
        (AT_ASH, 69.0, False),  # it cannot have come through yet
        ((*AT_ASH, "birch-end"), 70.0, False),  # what would have told of it has not
        ((*AT_ASH, "birch-tail"), 70.0, False),
        ((*AT_ASH, "birch-throat"), 70.0, False),
        ((*AT_ASH, "line"), 70.0, False),
        ((*AT_ASH, "birch-points"), 70.0, True),  # how points lie tells of no train
        ((*AT_ASH, "birch-main"), 70.0, True),  # it may have come in on the loop
        (ROADS, 70.0, False),
    ],
)
def test_where_nothing_tells_a_train_is_in_a_section_for_as_long_as_it_takes(
    detectors: tuple[str, ...], until_t: float, may_have_left: bool
) -> None:
    state, presence = gone_in(detectors, until_t)
    assert inside.may_have_left(state, presence) is may_have_left
    assert inside.is_plainly_in(state, presence) is not may_have_left
    assert inside.left(state, SECTION, "p2") == ({"g1"} if may_have_left else set())
    assert inside.left(state, SECTION, "g1") == set()


def test_who_has_not_departed_is_where_it_went() -> None:
    assert not inside.may_have_left(*gone_in(departed=False))


@pytest.mark.parametrize(
    ("how", "may_have_left"),
    [
        ({"out_t_far": 40.0}, True),
        ({"out_t_far": 40.1}, False),
        ({"out_t_far": 20.0, "passed_t": 41.0}, False),  # something of it passed there later
        ({"out_t_far": 20.0, "out_sign_t": 41.0}, False),
        ({"out_t_far": 20.0, "short": Short("", ("v1",), (), (), (), 20.0)}, False),  # it has left something there
    ],
)
def test_the_rest_of_who_comes_out_follows_within_half_a_minute(how: dict[str, Any], may_have_left: bool) -> None:
    """The contract's `complete_after`; a reader stands where it comes out."""
    state, presence = gone_in((*AT_ASH, "birch-end"), out_at="birch.up", **how)
    assert inside.may_have_left(state, presence) is may_have_left


@pytest.mark.parametrize(("on_t", "may_have_left"), [(10.0, False), (20.0, False), (20.1, True)])
def test_a_section_that_has_said_occupied_all_the_while_keeps_it_in(on_t: float, may_have_left: bool) -> None:
    """What came on ten seconds after it went in, or later, is another's."""
    state, presence = gone_in((*AT_ASH, "line"), on_t=on_t, out_at="birch.up", out_t_far=30.0)
    assert inside.may_have_left(state, presence) is may_have_left


@pytest.mark.parametrize(
    ("goes_on_to", "likely", "is_in"),
    [("birch", 0.6, True), ("birch", 0.59, False), ("cedar", 0.94, False), ("cedar", 0.95, True)],
)
def test_who_is_not_booked_into_a_section_only_shunts_there(
    monkeypatch: pytest.MonkeyPatch, goes_on_to: str, likely: float, is_in: bool
) -> None:
    booked = SimpleNamespace(stations=("ash", goes_on_to))
    monkeypatch.setattr(inside, "section_after", lambda railway, train: booked)
    state, presence = gone_in((*AT_ASH, "birch-end"))
    state.where = Believed({"e1": {SECTION: likely, "ash.main": 1.0 - likely}}, leads={"e1": "e1"}, stood={"e1": 60.0})
    assert inside.is_plainly_in(state, presence) is is_in


@pytest.mark.parametrize(
    ("out_t", "by", "is_plain"),
    [(60.0, "order", False), (59.9, "order", True), (60.0, "seen", True), (60.0, "carried", False)],
)
def test_what_moved_there_just_before_a_train_is_read_was_that_train(out_t: float, by: str, is_plain: bool) -> None:
    """p2 is read going in at 70 s; r3 was reckoned to have gone in at Birch."""
    state, presence = gone_in(out_at=None, train="r3", engine="e3", out_t=out_t)
    state.where = Believed({"e3": {SECTION: 1.0}}, leads={"e3": "e3"}, by={"e3": by})
    entry = Entry(presence.cause, SECTION, "r3", out_t, 1, True, "")
    state.entries[SECTION] = [entry]
    inside.doubt_reckoned(state, SECTION, state.roster.trains["p2"], 70.0)
    assert entry.is_plain is is_plain
