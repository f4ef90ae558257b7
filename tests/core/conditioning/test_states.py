"""Every sentence of the contracts on state lines: how an input stands now, which is never a movement of its own."""

from __future__ import annotations

import pytest

from .conftest import Scene


def test_state_is_how_an_input_stands_now_and_never_makes_a_movement(scene: Scene) -> None:
    scene.state_all(1.0)
    scene.state(2.0, 1, "on")
    scene.state(2.0, 3, "tag=04A1")
    scene.state(2.0, 4, "on")
    scene.state(2.0, 8, "tag=04B2")
    scene.until(9.0)
    assert scene.observations
    assert not any(seen.moves for seen in scene.observations)
    assert scene.core.detectors["dock"].stated
    assert scene.told("axles") == []


def test_a_state_off_waits_for_clear_after_too(scene: Scene) -> None:
    scene.state(1.0, 1, "off")
    assert scene.word("dock") == "unknown"
    scene.until(2.0)
    assert scene.told("dock") == [(2.0, "clear")]


def test_a_state_that_tells_what_is_known_says_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(1.0, 3, "tag=04A1")
    scene.report(1.0, 6, "on")
    scene.observations.clear()
    for number, value in ((1, "on"), (3, "tag=04A1"), (6, "on")):
        scene.state(2.0, number, value)
    assert scene.observations == []


def test_a_clear_that_rests_on_a_state_line_after_a_report_on_is_no_movement(scene: Scene) -> None:
    """The off report was lost, and the answer to `ask` tells of it."""
    scene.report(1.0, 1, "on")
    scene.state(5.0, 1, "off")
    scene.until(9.0)
    seen = scene.observations[-1]
    assert (seen.state, seen.t, seen.moves) == ("clear", 6.0, False)


@pytest.mark.parametrize(("number", "on", "word"), [(1, "on", "clear"), (8, "tag=04A1003B68", "off")])
def test_an_off_that_was_reported_before_a_start_and_is_stated_behind_it_is_a_movement(
    scene: Scene, number: int, on: str, word: str
) -> None:
    scene.report(1.0, number, on)
    scene.report(2.0, number, "off")
    scene.host(2.3, started=False)
    scene.host(2.5, started=True)
    scene.state(2.6, number, "off")
    scene.until(10.0)
    last = scene.observations[-1]
    assert (last.state, last.moves, last.happened_t) == (word, True, 2.0)


def test_an_off_before_a_start_is_none_where_the_input_is_stated_to_be_on_behind_it(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.host(2.3, started=False)
    scene.host(2.5, started=True)
    scene.state(2.6, 1, "on")
    scene.state(3.0, 1, "off")
    scene.until(10.0)
    last = scene.observations[-1]
    assert (last.state, last.moves) == ("clear", False)


def test_a_state_older_than_what_its_input_has_said_since_changes_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "off", seq=1)
    scene.report(2.0, 1, "on", seq=3)
    scene.state(2.1, 1, "off", seq=2, ms=1500)
    scene.until(9.0)
    assert scene.word("dock") == "occupied"


def test_a_number_that_was_a_state_line_is_answered_with_the_present_state(scene: Scene) -> None:
    scene.report(1.0, 1, "on", seq=1)
    scene.report(2.0, 6, "on", seq=3)
    scene.state(5.0, 1, "off", seq=2, ms=5000)
    scene.until(6.0)
    seen = scene.observations[-1]
    assert (seen.detector, seen.state, seen.moves) == ("dock", "clear", False)
