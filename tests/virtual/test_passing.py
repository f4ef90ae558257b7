"""What a detector has felt leaves it again, wherever a train comes to a stand and turns back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bridge.core.plan import Railway
from bridge.virtual.orders import RunsTo
from bridge.virtual.physics import CLEAN
from bridge.virtual.rake import Rake
from bridge.virtual.ways import plan_run
from bridge.virtual.world import World

TREADLE = """
[[detector]]
id = "in"
kind = "treadle"
at = "ash-elm@elm"
sees = "engine"
board = "one"
input = 1
"""
REACH_MM = CLEAN.magnet_mm / 2.0
AT_MM = 1500.0  # the treadle's place on the way, see `the_rake`


@pytest.fixture(scope="module")
def world(line: Callable[..., Railway]) -> World:
    return World(line(TREADLE, ["e1,engine,150,,"], ["e1,ash.road,1"]))


def the_rake(world: World, offset_mm: float) -> Rake:
    """The engine on its way to the other station, its magnet so far before the treadle (beyond it, where below 0)."""
    rake = plan_run(world, world.key_of("e1"), RunsTo("elm.road")).rake
    joint_mm = next(leg.end_mm for leg in rake.legs if leg.stretch == "ash-elm")
    rake = rake.shifted(AT_MM - joint_mm)
    return rake.moved(AT_MM - offset_mm - (rake.low_mm + rake.length_mm / 2.0))


@given(st.lists(st.floats(-12.0, 12.0), min_size=1, max_size=12))
@example([REACH_MM, 0.0, REACH_MM, -REACH_MM, 0.0])
@example([-REACH_MM, -REACH_MM - 1.0, REACH_MM + 1e-12, -REACH_MM - 1e-12])
@example([REACH_MM - 1e-12, 50.0])
def test_it_feels_as_often_as_it_is_left(world: World, stands: list[float]) -> None:
    felt, at_mm = 0, 100.0
    for offset_mm in [*stands, -100.0]:
        rake = the_rake(world, at_mm)
        run = rake if offset_mm <= at_mm else rake.about()
        for crossing in world.wayside.crossings(run, abs(at_mm - offset_mm)):
            felt += {"felt": 1, "left": -1}.get(crossing.what, 0)
            assert felt in (0, 1)
        at_mm = offset_mm
        if abs(abs(offset_mm) - REACH_MM) > 0.01:
            assert felt == (abs(offset_mm) < REACH_MM)
