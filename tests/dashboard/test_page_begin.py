"""The page "Begin and end" in a real browser: what to look at before a session, and what stands first later."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.wires


def waiting(snapshot: dict[str, Any]) -> None:
    snapshot["session"].update(state="waiting", clock=None, clock_running=False)
    snapshot["boards"][2]["state"] = "not-heard"


def parts(page: Any) -> list[str]:
    return page.locator(".part > h2").all_inner_texts()


def test_before_the_session_it_says_who_is_not_heard_and_what_to_look_for(open_page: Callable[..., Any], door: Any) -> None:
    door.show(waiting)
    page = open_page(360, 740, at="begin")
    assert parts(page)[:3] == ["Session clock", "Boards", "Where things stand"]
    ready = page.locator(".readiness li").all_inner_texts()
    assert [" ".join(text.split()) for text in ready] == ["? Not heard: sandle", "? 6 vehicles to look for"]
    assert page.locator("[data-board]").first.get_attribute("data-board") == "sandle"
    page.get_by_role("link", name="6 vehicles to look for").click()
    assert page.evaluate("document.activeElement.id") == "standing"
    assert page.url.endswith("#begin")
    assert "219 (w219) held to be at Otterbeck Junction coal" in page.locator("#standing").inner_text()
    page.get_by_text("Wrenfield: 4").click()
    assert page.locator("#standing details[open] dd").all_inner_texts() == [
        "105 (c105), 106 (c106)",
        "340 (w340), 341 (w341)",
    ]

    def ready_now(snapshot: dict[str, Any]) -> None:
        for board in snapshot["boards"]:
            board["state"] = "heard"
        for vehicle in snapshot["vehicles"].values():
            vehicle["sure"] = 1.0

    door.show(ready_now)
    page.get_by_text("All 4 boards are heard").wait_for()
    assert page.get_by_text(f"All {len(door.shown.snapshot['vehicles'])} vehicles have their places").is_visible()
    assert page.locator("nav a[href='#begin'] .count").count() == 0


def test_in_the_session_the_clock_and_after_it_what_is_to_be_written_stands_first(
    open_page: Callable[..., Any], door: Any
) -> None:
    page = open_page(at="begin")
    assert parts(page)[:3] == ["Session clock", "Register", "Boards"]
    assert page.locator("[data-next]").inner_text() == "The session is running."
    door.show(lambda s: s["session"].update(clock_running=False))
    page.get_by_text("The session clock is stopped. Go on when everybody is ready.").wait_for()
    door.show(lambda s: s["session"].update(state="ended", clock=None))
    page.locator(".part-after").wait_for()
    assert parts(page)[0] == "After the session"
    assert "numbertaker audit" in page.locator("#after").inner_text()
