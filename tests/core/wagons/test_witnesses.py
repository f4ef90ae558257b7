"""What would have told of a vehicle, had its train taken it along, and what a departure shows by that.

g1 (e1 w1 v1) has gone from Ash by the section to Birch; what is believed is told by each test.
"""

from __future__ import annotations

from typing import Any

import pytest

from bridge.core.trains import Phase
from bridge.core.wagons import reckoning, witnesses
from bridge.core.wagons.moves import Due

from ..believed import Believed
from ..conftest import DOCKS, ENDS, STOCK, TRACKS, Session, line

SECTION = "ash-birch"
OUT_T, OUT_N, AFTER_S = 40.0, 10, 20.0
LIFT = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"
SET_OUT = "vehicle,from,to,working,call\nw1,ash.main,ash.loop,g1,\n"
NO_TAG = STOCK.replace("w1,wagon,100,04B1,", "w1,wagon,100,,")
GONE = {"e1": {SECTION: 1.0}, "v1": {SECTION: 1.0}}
BEYOND = {"e1": {"birch.main": 1.0}, "v1": {"birch.main": 1.0}}


def departed(at: dict[str, dict[str, float]], state_of_move: str = "booked", now_t: float = 100.0, **how: Any) -> Any:
    """The core where g1 has surely gone from Ash; `how`: `silent`, `n` and `section` of what is due, what is believed
    (`by`, `sure`, `stood`, `evidence`), and the files of the railway."""
    files = {key: how.pop(key) for key in ("moves", "stock", "detectors") if key in how}
    due = Due("g1", 0, "ash", SECTION, 0.0, OUT_T, how.pop("n", OUT_N), how.pop("of", "set-out"), how.pop("silent", 0))
    state = Session(line(**files)).state
    state.t, train = now_t, state.roster.trains["g1"]
    leads = dict.fromkeys(("e1", "v1", *how.pop("with_it", ())), "e1")
    state.where = Believed(at, leads=leads, **how)  # type: ignore[assignment]
    train.phase, train.section, train.brought, train.is_gone = Phase.IN_SECTION, SECTION, frozenset(), True
    train.left, train.left_n, train.sure_at = "ash", OUT_N, "ash"
    (now,) = state.freight.moves
    now.state, now.train, now.due = state_of_move, "g1", due
    return state


def shown(state: Any, vehicle: str) -> list[str]:
    """The kinds of what the departure shows of a vehicle."""
    reckoning.look_again(state, vehicle)
    return [doubt.kind for doubt in state.doubts.get("g1", ())]


LEFT = {"w1": {"ash.dock": 1.0}}
NO_ENDS = (*TRACKS, *DOCKS)
FAR_END = (*NO_ENDS, "birch-end")


@pytest.mark.parametrize(
    ("how", "is_said"),
    [
        pytest.param({"now_t": OUT_T + AFTER_S - 1.0}, False, id="its rear may pass the reader at the limit still"),
        pytest.param({"now_t": OUT_T + AFTER_S}, True, id="all of it has passed that"),
        pytest.param({"now_t": OUT_T + 1.0, "silent": 1}, True, id="all of it has passed one further on"),
        pytest.param({"detectors": FAR_END}, False, id="the only reader on its way is yet to be passed"),
        pytest.param({"detectors": FAR_END, "silent": 1}, True, id="and has been passed"),
        pytest.param({"detectors": NO_ENDS, "now_t": OUT_T + 1.0}, True, id="nothing reads it on its way"),
        pytest.param({"detectors": NO_ENDS, "stock": NO_TAG}, False, id="it has no tag"),
        pytest.param({"now_t": OUT_T + 1.0, "by": {"w1": "told"}}, True, id="somebody has seen it stand there"),
    ],
)
def test_a_wagon_left_in_a_siding_would_have_been_read_with_its_train(how: dict[str, Any], is_said: bool) -> None:
    state = departed(GONE | LEFT, "in-train", moves=SET_OUT, **how)
    assert shown(state, "w1") == (["wagon-misplaced"] if is_said else [])


def test_of_what_has_no_tag_a_detector_of_its_road_tells_where_nothing_else_stands() -> None:
    for others, is_so in (({}, True), ({"w2": {"ash.loop": 1.0}}, False)):
        state = departed(GONE | {"w1": {"ash.loop": 1.0}} | others, "in-train", moves=SET_OUT, stock=NO_TAG)
        move = state.freight.moves[0]
        assert witnesses.of_going_on(state, move.due, move.move) == (witnesses.AT_ONCE if is_so else witnesses.NOT_YET)


def test_what_waits_for_the_rear_of_its_train_is_judged_then() -> None:
    state = departed(GONE | LEFT, "in-train", moves=SET_OUT, now_t=OUT_T + 1.0)
    assert shown(state, "w1") == []
    assert reckoning.due(state) == OUT_T + AFTER_S
    state.t = OUT_T + AFTER_S
    reckoning.pass_deadline(state)
    assert [doubt.kind for doubt in state.doubts["g1"]] == ["wagon-misplaced"]
    assert reckoning.due(state) is None


@pytest.mark.parametrize(
    ("at", "sure", "is_said"),
    [("ash.dock", 0.8, True), ("ash.dock", 0.79, False), ("birch.loop", 0.8, False)],
    ids=["known to stand there", "not known", "held to be elsewhere"],
)
def test_a_lift_is_missed_by_what_is_known_to_stand_there(at: str, sure: float, is_said: bool) -> None:
    state = departed(
        GONE | {"w2": {at: 1.0}}, moves=LIFT, of="lift", silent=1, sure={"w2": sure}, detectors=(*TRACKS, *ENDS, *DOCKS)
    )
    assert shown(state, "w2") == (["lift-missed"] if is_said else [])


NO_TAG_TO_LIFT = STOCK.replace("w2,wagon,100,04B2,", "w2,wagon,100,,")


@pytest.mark.parametrize(
    ("how", "is_said"),
    [
        pytest.param({}, True, id="nobody was read at the dock"),
        pytest.param({"read": {"ash.dock@down": 5.0}}, False, id="somebody was there since the train came"),
        pytest.param({"read": {"ash.dock@down": -5.0}}, True, id="somebody was there before"),
        pytest.param({"stock": NO_TAG_TO_LIFT.replace("04A1", "")}, False, id="its engine carries no tag either"),
    ],
)
def test_a_lift_of_what_has_no_tag_is_missed_where_nobody_has_been(how: dict[str, Any], is_said: bool) -> None:
    known = {"stock": NO_TAG_TO_LIFT, "detectors": (*TRACKS, *ENDS, *DOCKS)} | how
    state = departed(GONE | {"w2": {"ash.dock": 1.0}}, moves=LIFT, of="lift", **known)
    assert shown(state, "w2") == (["lift-missed"] if is_said else [])


@pytest.mark.parametrize(("stood_t", "is_said"), [(OUT_T - 1.0, False), (OUT_T, True)])
def test_a_set_out_is_forgotten_by_what_was_read_since_its_train_went(stood_t: float, is_said: bool) -> None:
    """Whenever it was heard: the line that told of it may have come before the one that told of the train."""
    evidence = {"w1": (3, OUT_N - 1)}
    state = departed(
        GONE | {"w1": {SECTION: 1.0}}, "in-train", moves=SET_OUT, with_it=("w1",), evidence=evidence, stood={"w1": stood_t}
    )
    assert shown(state, "w1") == (["set-out-forgotten"] if is_said else [])


@pytest.mark.parametrize(("stood_t", "by", "is_said"), [(60.0, "seen", True), (90.0, "seen", False), (60.0, "order", False)])
def test_an_engine_that_has_been_seen_elsewhere_since_has_left_it(stood_t: float, by: str, is_said: bool) -> None:
    """e1 is held to have come to Birch in second 70, w1 to have come into the dock at Ash before that, or since."""
    stood = {"e1": 70.0, "v1": 70.0, "w1": stood_t}
    state = departed(BEYOND | LEFT, "in-train", moves=SET_OUT, stood=stood, by={"e1": by}, silent=1)
    (now,) = state.freight.moves
    now.due = None
    reckoning.engine_moved(state, "e1")
    assert [doubt.kind for doubt in state.doubts.get("g1", ())] == (["wagon-misplaced"] if is_said else [])
