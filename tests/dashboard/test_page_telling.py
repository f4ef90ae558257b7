"""The page in a real browser: what an operator tells reaches the door, and its answer the operator."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.dashboard import Answer

pytestmark = pytest.mark.wires


def test_acknowledge_explain_and_verdict_reach_the_door_with_the_name(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="begin")
    page.locator("#who").fill("Mo of the Quay")
    page.locator("[data-now] a").click()
    card = page.locator("[data-irregularity=lift-missed-2]")
    card.get_by_role("button", name="Acknowledge").click()
    assert door.wait_told("acknowledge lift-missed-2") == "Mo-of-the-Quay"
    page.wait_for_selector("[data-answer=is-taken]")
    assert page.locator("#answers").inner_text() == "Taken, journal number 418. acknowledge lift-missed-2: noted."
    card.get_by_role("button", name="False alarm").click()
    door.wait_told("verdict lift-missed-2 false")
    card.get_by_role("button", name="Explain").click()
    card.get_by_label("Reason").fill("held for the passenger")
    card.get_by_role("button", name="Tell the reason").click()
    door.wait_told("explain lift-missed-2 held for the passenger")
    door.show(
        lambda s: s["irregularities"][0].update(acknowledged=True, verdict="false", explained="held for the passenger")
    )
    card.get_by_text("Explained: held for the passenger").wait_for()
    assert card.get_by_role("button", name="Acknowledge").count() == 0
    assert card.get_by_role("button", name="False alarm").get_attribute("aria-pressed") == "true"
    page.reload()
    page.wait_for_selector("#who")
    assert page.locator("#who").input_value() == "Mo of the Quay"


def test_the_session_is_begun_stopped_and_ended(open_page: Callable[..., Any], door: Any) -> None:
    door.show(lambda s: s["session"].update(state="waiting", clock=None, clock_running=False))
    page = open_page(360, 740, at="begin")
    page.get_by_label("Begin at").fill("19:05")
    page.get_by_role("button", name="Begin", exact=True).click()
    door.wait_told("begin 19:05")
    door.show(lambda s: s["session"].update(state="running", clock="19:05:00", clock_running=True))
    page.get_by_role("button", name="Stop the clock").click()
    door.wait_told("stop-clock")
    door.show(lambda s: s["session"].update(clock_running=False))
    page.get_by_role("button", name="Go on").click()
    door.wait_told("go-on")
    page.get_by_role("button", name="End the session").click()
    page.get_by_role("button", name="Keep running").click()
    page.get_by_role("button", name="End the session").click()
    assert "end" not in [words for words, _ in door.told]
    page.get_by_role("button", name="Yes, end it").click()
    door.wait_told("end")


def test_free_words_are_answered_whether_taken_or_not(open_page: Callable[..., Any], door: Any) -> None:
    door.answers["standz w331"] = Answer(False, 'There is no word "standz". Did you mean "stands"?', None)
    page = open_page(at="begin")
    page.locator("#words").fill("standz w331")
    page.locator("#words").press("Enter")
    page.wait_for_selector("[data-answer=is-refused]")
    assert 'Did you mean "stands"?' in page.locator("[data-answer]").inner_text()
    assert page.locator("#words").input_value() == "standz w331"
    page.locator("#words").fill("stands w331 wrenfield.dock")
    page.locator("#words").press("Enter")
    page.wait_for_selector("[data-answer=is-taken]")
    assert page.locator("#words").input_value() == ""
    page.get_by_text("The words, and when to say them").click()
    page.get_by_role("button", name="Use: stands VEHICLE PLACE").click()
    assert page.evaluate("getSelection().toString()") == "VEHICLE PLACE"


def test_a_detector_is_muted_and_unmuted(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="begin")
    assert "lost" in page.locator(".board").first.inner_text()
    assert "missing numbers: 2" in page.locator("[data-board=otter]").inner_text()
    page.locator("[data-board=otter] summary").click()
    page.get_by_role("button", name="Unmute otter-in").click()
    door.wait_told("unmute otter-in")
    page.get_by_role("button", name="Mute otter-loop").click()
    door.wait_told("mute otter-loop")
