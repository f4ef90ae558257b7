"""Trains that were held to have gone out, and have not; and those that come out without what goes with them."""

from __future__ import annotations

import pytest

from bridge.core.movement import coming
from bridge.core.trains import Phase
from bridge.core.whereabouts import Crossing

from ..believed import Believed
from ..conftest import DOCKS, ENDS, Session, line

GONE = {"w1": {"ash-birch": 1.0}}


@pytest.mark.parametrize(
    ("engine", "others", "detectors", "has_stayed"),
    [
        ({"ash.main": 0.95, "ash-birch": 0.05}, {}, (), True),
        ({"ash.main": 0.5, "ash.loop": 0.5}, {}, (), True),  # on which road does not matter
        ({"ash.main": 0.94, "ash-birch": 0.06}, {}, (), False),
        ({"ash.down": 1.0}, {}, (), False),  # it may be about to go out again
        ({"birch.main": 1.0}, {}, (), False),
        ({"ash.main": 1.0}, GONE, (), False),  # something of it is in the section
        ({"ash.main": 1.0}, {}, ("line",), False),
    ],
)
def test_a_train_whose_engine_turns_out_to_stand_at_the_station_has_not_left(
    engine: dict[str, float], others: dict[str, dict[str, float]], detectors: tuple[str, ...], has_stayed: bool
) -> None:
    s = Session(line(detectors=(*detectors, *ENDS, *DOCKS))).on(*detectors).read("ash-end", "e1", "w1", "v1").wait(30.0)
    assert [row["train"] for row in s.rows("departed")] == ["g1"]
    (presence,) = s.state.presences["ash-birch"]
    s.state.where = Believed({"e1": engine, **others}, leads={"e1": "e1", "w1": "e1"})  # type: ignore[assignment]
    assert coming.try_back(s.state, presence) is has_stayed
    train = s.state.roster.trains["g1"]
    assert (train.phase, train.station) == (Phase.AT_STATION if has_stayed else Phase.IN_SECTION, "ash")
    assert s.state.presences["ash-birch"] == ([] if has_stayed else [presence])


@pytest.mark.parametrize(
    ("rear", "is_proved"),
    [("birch.up", True), ("off", True), ("ash-birch", False), ("ash.down", False), ("ash.main", False)],
)
def test_an_engine_that_is_read_proves_its_train_out_where_nothing_of_that_may_be_behind(rear: str, is_proved: bool) -> None:
    """GERT8000-TS4 clause 3.6.4: out of section only when complete. What is held to be at the station that it left may as
    well be in the section."""
    s = Session(line(detectors=(*ENDS, *DOCKS))).read("ash-end", "e1", "w1", "v1").wait(5.0)
    (presence,) = s.state.presences["ash-birch"]
    at = {"e1": {"birch.up": 1.0}, "w1": {rear: 1.0}}
    s.state.where = Believed(at, leads={"e1": "e1", "w1": "e1"})  # type: ignore[assignment]
    coming.come_out(s.state, Crossing(s.t, 1, "e1", "ash-birch", "birch.up", "seen"), "e1", "ash-birch", "birch.up")
    assert presence.cleared == ("complete" if is_proved else None)
