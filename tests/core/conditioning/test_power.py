"""Track power with a power detector: what it makes unknown and for how long, in the words of railway-folder.md."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .conftest import Scene
from .powered import POWER


@pytest.fixture
def fed(make: Callable[..., Scene]) -> Scene:
    """The power detector feeds dock and line; loop has none."""
    scene: Scene = make(power=POWER)
    scene.state(0.0, 9, "on", board="birch")
    scene.report(1.0, 1, "on")
    scene.report(1.0, 2, "off")
    scene.report(1.0, 1, "on", board="birch")
    scene.observations.clear()
    return scene


def power(scene: Scene, t: float, value: str) -> Any:
    return scene.report(t, 9, value, board="birch")


def test_while_it_is_off_track_detectors_there_are_unknown(fed: Scene) -> None:
    said = power(fed, 5.0, "off")
    assert [(o.detector, o.state, o.moves) for o in said.observations] == [
        ("power", "off", True),
        ("dock", "unknown", False),
        ("line", "unknown", False),
    ]
    assert {o.n for o in said.observations} == {fed.n}
    assert fed.word("loop") == "occupied"
    assert fed.core.detectors["dock"].why == "track power is off"


def test_and_for_2_s_after_then_as_last_reported(fed: Scene) -> None:
    power(fed, 5.0, "off")
    fed.report(5.1, 1, "off")
    fed.report(5.1, 1, "off", board="birch")
    power(fed, 20.0, "on")
    fed.report(20.3, 1, "on")
    fed.until(21.9)
    assert (fed.word("dock"), fed.word("line")) == ("unknown", "unknown")
    fed.until(22.0)
    assert (fed.word("dock"), fed.word("line")) == ("occupied", "clear")
    assert [(o.t, o.moves) for o in fed.observations[-2:]] == [(22.0, False), (22.0, False)]


def test_a_track_that_clears_in_the_last_of_the_2_s_still_waits_its_clear_after(fed: Scene) -> None:
    power(fed, 5.0, "off")
    power(fed, 20.0, "on")
    fed.report(21.8, 1, "off")
    fed.until(22.0)
    assert fed.word("dock") == "occupied"
    fed.until(22.8)
    assert fed.word("dock") == "clear"


def test_power_that_goes_again_within_the_2_s_keeps_them_unknown(fed: Scene) -> None:
    power(fed, 5.0, "off")
    power(fed, 6.0, "on")
    power(fed, 7.0, "off")
    assert fed.core.due() == 1_000_001.0  # a board's silence: the 2 s wait no more
    fed.until(60.0)
    assert fed.word("dock") == "unknown"
    power(fed, 60.0, "on")
    power(fed, 61.0, "on")
    fed.until(62.0)
    assert fed.word("dock") == "occupied"


def test_clears_up_to_1_s_before_power_off_do_not_count(make: Callable[..., Scene]) -> None:
    scene = make(power=POWER, dock={"clear_after_ms": 100.0})
    scene.report(1.0, 1, "on")
    scene.report(4.1, 1, "off")
    power(scene, 5.0, "off")
    scene.until(9.0)
    assert scene.told("dock") == [(1.0, "occupied"), (5.0, "unknown")]


def test_a_track_under_power_says_clear_1_s_after_its_off_at_the_earliest(make: Callable[..., Scene]) -> None:
    scene = make(power=POWER, dock={"clear_after_ms": 100.0})
    scene.report(1.0, 1, "on")
    scene.report(4.0, 1, "off")
    scene.until(9.0)
    assert scene.told("dock")[-1] == (5.0, "clear")


def test_power_first_heard_off_darkens_too(make: Callable[..., Scene]) -> None:
    scene = make(power=POWER)
    scene.report(1.0, 1, "on")
    scene.state(2.0, 9, "off", board="birch")
    assert scene.word("dock") == "unknown"


def test_unknown_power_darkens_nothing(make: Callable[..., Scene]) -> None:
    scene = make(power=POWER)
    scene.report(1.0, 1, "on")
    assert (scene.word("dock"), scene.word("power")) == ("occupied", "unknown")


def test_power_that_said_off_and_is_lost_stays_off_until_it_says_on(fed: Scene) -> None:
    power(fed, 5.0, "off")
    fed.closed(6.0, "port-birch")
    fed.until(30.0)
    assert (fed.word("power"), fed.word("dock")) == ("unknown", "unknown")
    fed.state(31.0, 9, "on", board="birch")
    fed.until(33.0)
    assert fed.word("dock") == "occupied"


def test_a_power_detector_that_lies_can_be_muted(fed: Scene) -> None:
    power(fed, 5.0, "off")
    said = fed.core.mute("power", 9.0, 9)
    assert [(o.detector, o.state) for o in said.observations] == [
        ("power", "unknown"),
        ("dock", "occupied"),
        ("line", "occupied"),
    ]
    said = fed.core.unmute("power", 10.0, 10)
    assert [(o.detector, o.state) for o in said.observations] == [("power", "off"), ("dock", "unknown"), ("line", "unknown")]


def test_a_muted_power_detector_darkens_nothing_whatever_it_says(fed: Scene) -> None:
    fed.core.mute("power", 2.0, 9)
    power(fed, 5.0, "off")
    assert fed.word("dock") == "occupied"


def test_of_two_power_detectors_each_darkens(make: Callable[..., Scene]) -> None:
    other = {**POWER, "id": "other", "input": 8, "feeds": ("alder.dock",)}
    scene = make(power=POWER, other=other)
    scene.report(1.0, 1, "on")
    scene.report(2.0, 9, "off", board="birch")
    scene.report(2.0, 8, "off", board="birch")
    scene.report(3.0, 9, "on", board="birch")
    scene.until(6.0)
    assert scene.word("dock") == "unknown"
    scene.report(7.0, 8, "on", board="birch")
    scene.until(9.0)
    assert scene.word("dock") == "occupied"


def test_a_start_of_the_service_counts_the_2_s_anew(fed: Scene) -> None:
    power(fed, 5.0, "off")
    power(fed, 6.0, "on")
    fed.host(6.5, started=False)
    fed.host(100.0, started=True)
    fed.state(100.5, 1, "on")
    assert fed.word("dock") == "unknown"
    fed.until(102.0)
    assert fed.word("dock") == "occupied"
