"""Departures that are taken for such and may be none: an engine that shunts, a train that was another.

Each case is one of an evening on a railway with few detectors. g1 (e1 w1 v1) is booked from Ash to Birch.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.facts import Entry
from bridge.core.movement import early, going, gone
from bridge.core.presence import Presence
from bridge.core.trains import Phase
from bridge.core.whereabouts import Crossing

from ..believed import Believed
from ..conftest import ENDS, Session, line
from ..four_stations import line_of_four

Make = Callable[..., Session]
HERE, BEHIND = "birch-cedar", "ash-birch"
IN = {HERE: 1.0}


def departed(at: dict[str, dict[str, float]], by: dict[str, str], **how: Any) -> bool:
    """Whether p1 (ep1 bp1), which came from Ash, has surely gone on from Birch: its engine is in the section beyond."""
    s = Session(line_of_four("one-train", {"p1": ("ash", "birch", "cedar")})).wait(90.0)
    state, train = s.state, s.state.roster.trains["p1"]
    state.where = Believed({"ep1": IN} | at, by=by, leads={"ep1": "ep1", "bp1": "ep1"})  # type: ignore[assignment]
    train.phase, train.section, train.left, train.left_from, train.sure_at = (
        Phase.IN_SECTION,
        HERE,
        "birch",
        "birch",
        "birch",
    )
    presence = Presence("p1", "ep1", HERE, "birch.down", 40.0, 1, "ep1", 40.0, "entry:1", departed=True)
    for name, value in how.items():
        setattr(presence, name, value)
    state.presences[HERE] = [presence]
    gone.look_again(state, "ep1")
    return train.is_gone


@pytest.mark.parametrize(
    ("van", "by", "how", "is_gone"),
    [
        (IN, "order", {}, True),
        ({BEHIND: 1.0}, "order", {"goes_alone": True}, False),  # its van has yet to come to Birch, as far as is known
        ({BEHIND: 1.0}, "order", {}, True),  # it had come, and went along
        ({BEHIND: 1.0}, "order", {"goes_alone": True, "out_at": "cedar.up"}, True),
        (IN, "order", {"goes_alone": True}, False),  # taken along only because the train counts as departed
        (IN, "seen", {"goes_alone": True}, True),
    ],
)
def test_an_engine_that_goes_out_without_what_it_brought_may_shunt(
    van: dict[str, float], by: str, how: dict[str, Any], is_gone: bool
) -> None:
    assert departed({"bp1": van}, {"bp1": by}, **how) is is_gone


@pytest.mark.parametrize(
    ("cause", "by", "arrived_t", "trodden_t", "is_gone"),
    [
        ("unseen:1", "order", 20.0, 19.0, False),
        ("unseen:1", "order", 20.0, 20.0, True),  # something passed the treadle there since it came
        ("unseen:1", "seen", 20.0, 19.0, True),  # it was read elsewhere
        ("unseen:1", "told", 20.0, 19.0, True),
        ("entry:1", "order", 20.0, 19.0, True),  # it was seen going
    ],
)
def test_who_is_only_taken_to_have_gone_has_passed_the_treadle_there(
    cause: str, by: str, arrived_t: float, trodden_t: float, is_gone: bool
) -> None:
    s = Session(line(detectors=(*ENDS, "ash-out"))).wait(90.0)
    state, train = s.state, s.state.roster.trains["g1"]
    state.where = Believed({"e1": {BEHIND: 1.0}}, by={"e1": by}, leads={"e1": "e1"})  # type: ignore[assignment]
    train.phase, train.section, train.left, train.arrived_t = Phase.IN_SECTION, BEHIND, "ash", arrived_t
    state.trodden_at["ash.down"] = trodden_t
    state.presences[BEHIND] = [Presence("g1", "e1", BEHIND, "ash.down", 40.0, 1, "e1", 40.0, cause, departed=True)]
    gone.look_again(state, "e1")
    assert train.is_gone is is_gone


@pytest.mark.parametrize(("elsewhere", "missing"), [(False, True), (True, False)])
def test_whom_a_train_was_to_wait_for_may_be_where_it_was_read(elsewhere: bool, missing: bool) -> None:
    """r3 waits at Birch for g1, which is held to be at Ash still; `elsewhere`: its engine was read at Birch."""
    state = Session(line()).wait(30.0).state
    state.where = Believed({"e1": {"ash.main": 1.0}})  # type: ignore[assignment]
    if elsewhere:
        state.read_last["e1"] = ("birch.up", 20.0)
    assert state.railway is not None
    call = state.railway.workings["r3"].calls[0]
    assert early._has_surely_not_come(state, "g1", call, state.t) is missing


@pytest.mark.parametrize(
    ("vehicle", "by", "departed", "anew_ago_s", "is_anew"),
    [
        ("e1", "seen", False, 0.0, True),
        ("e1", "seen", False, 10.0, True),
        ("e1", "seen", False, 10.1, False),
        ("e1", "order", False, 0.0, False),  # which is only reckoned
        ("w1", "seen", False, 0.0, False),  # which only follows
        ("e1", "seen", True, 0.0, False),
    ],
)
def test_an_engine_read_going_out_long_after_goes_out_then(
    vehicle: str, by: str, departed: bool, anew_ago_s: float, is_anew: bool
) -> None:
    """It was out at 10 s, and at 80 s something is seen again where it went; nothing told that it had been back."""
    state = Session(line()).wait(90.0).state
    presence = Presence("g1", "e1", BEHIND, "ash.down", 10.0, 1, "e1", 12.0, "e1", 0.0, departed, anew_t=80.0 - anew_ago_s)
    going.note_out(state, presence, Crossing(80.0, 7, vehicle, "ash.down", BEHIND, by))
    assert (presence.out_t, presence.n) == ((80.0, 7) if is_anew else (10.0, 1))
    assert presence.last_sign_t == 80.0
    assert presence.told_t == (80.0 if by == "seen" else -1e9)


@pytest.mark.parametrize(("quiet_s", "is_anew"), [(20.1, True), (19.9, False)])
def test_a_sign_after_a_while_of_none_may_be_of_a_new_going(session: Make, quiet_s: float, is_anew: bool) -> None:
    s = session(detectors=(*ENDS, "ash-main"))
    s.read("ash-end", "e1").wait(quiet_s - 1.0)
    s.read("ash-end", "w1")
    (presence,) = s.state.presences[BEHIND]
    assert (presence.anew_t == s.t) is is_anew


def test_who_is_seen_further_on_has_not_come_out_of_the_section_it_was_held_in() -> None:
    """f1's van is held to be with it between Ash and Birch, and is read beyond Cedar: f1 has not come out there."""
    s = Session(line_of_four("one-train", {"f1": ("birch", "ash"), "p1": ("birch", "cedar")}))
    s.on("birch-up").on("ash-birch").read("ash-birch-at-birch", "ef1", "bf1").off("birch-f1", "birch-up").wait(3.0)
    s.read("birch-cedar-at-cedar", "bf1").wait(15.0)
    (presence,) = s.state.presences["ash-birch"]
    assert presence.out_at in (None, "ash.down")
    assert s.rows("irregularity", kind="train-divided") == []


@pytest.mark.parametrize(("told_t", "is_plain"), [(10.1, True), (10.0, False)])
def test_what_is_only_reckoned_to_follow_tells_of_nobody(told_t: float, is_plain: bool) -> None:
    """e1 was reckoned to have gone in at 10 s, and so was w1 behind it later: nothing at the section has told of either,
    or something has (`told_t`)."""
    state = Session(line(detectors=ENDS)).wait(30.0).state
    state.where = Believed({"e1": {BEHIND: 1.0}}, by={"e1": "order"}, leads={"e1": "e1"})  # type: ignore[assignment]
    presence = Presence("g1", "e1", BEHIND, "ash.down", 10.0, 1, "e1", 25.0, "entry:1", told_t=told_t)
    entry = Entry("entry:1", BEHIND, "g1", 10.0, 1, True, "", is_plain=False, is_witnessed=False)
    state.presences[BEHIND], state.entries[BEHIND] = [presence], [entry]
    going.look_again(state, presence)
    assert entry.is_plain is is_plain
