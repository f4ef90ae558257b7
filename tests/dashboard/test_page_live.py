"""The page in a real browser: how it goes on from picture to picture, and what it does when none comes."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Any

import pytest

from bridge.dashboard import Answer, Listening, create_app, listen

pytestmark = pytest.mark.wires


def test_a_new_picture_is_drawn_within_a_second(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page()
    began = time.monotonic()
    door.show(lambda s: s["session"].update(clock="19:59:59", clock_running=False))
    page.locator("[data-clock]", has_text="19:59:59").wait_for()
    assert time.monotonic() - began < 1


def test_what_is_typed_and_where_the_focus_is_outlast_new_pictures(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    page = open_page(at="begin")
    page.locator("#words").fill("stands w331 wrenf")
    page.locator("[data-board=otter] summary").click()
    page.locator("#words").focus()
    door.show(lambda s: (s["irregularities"].insert(0, dict(danger)), s["session"].update(clock="20:00:01")))
    page.wait_for_selector("[data-danger]")
    assert page.locator("#words").input_value() == "stands w331 wrenf"
    assert page.evaluate("document.activeElement.id") == "words"
    assert page.locator("[data-detector=otter-in]").is_visible()


def test_a_danger_is_seen_from_every_page_and_called_out(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    page = open_page(360, 740)
    door.show(lambda s: s["irregularities"].append(dict(danger)))
    page.wait_for_selector("[data-danger=section-clash-1]")
    assert page.locator("#calls").inner_text() == f"Danger. {danger['text']} {danger['do']}"
    assert page.title() == f"! {danger['text']} – Wren Vale Railway"
    for name in ("begin", "line", "work", "stock"):
        page.locator(f"nav a[href='#{name}']").click()
        page.wait_for_selector(f".on-{name}")
        box = page.locator("[data-danger]").bounding_box()
        assert 0 <= box["y"] < 100, name
        assert 48 <= box["height"] <= 120, name
        assert danger["do"] in page.locator("[data-danger]").inner_text(), name
    page.locator("[data-danger] a").click()
    card = page.locator("[data-irregularity=section-clash-1]")
    card.wait_for()
    assert page.locator("#irregularities .card").first.get_attribute("data-level") == "danger"
    end = page.locator("[data-danger]").bounding_box()
    assert end["y"] + end["height"] - 1 <= card.bounding_box()["y"] < 400
    card.get_by_role("button", name="Acknowledge").click()
    door.wait_told("acknowledge section-clash-1")
    door.show(lambda s: s["irregularities"][-1].update(acknowledged=True))
    page.wait_for_selector("[data-danger].is-known")
    page.locator("[data-danger] a").click()
    page.wait_for_selector(".part-vehicles")
    door.show(lambda s: s["irregularities"][-1].update(status="ended"))
    page.wait_for_selector("[data-danger]", state="detached")
    assert page.locator("#calls").inner_text() == ""


def test_a_wide_page_takes_the_acknowledgement_in_the_bar(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    page = open_page(1280, 800)
    door.show(lambda s: s["irregularities"].append(dict(danger)))
    page.locator("[data-danger] .do", has_text=danger["do"]).wait_for()
    page.locator("[data-danger] button").click()
    door.wait_told("acknowledge section-clash-1")


MARKUP = '<img src=x onerror="window.hit=1"><script>window.hit=2</script>'


def mark_up(value: Any, key: str = "") -> Any:
    """A snapshot in which every text that a person may have written holds markup."""
    if isinstance(value, dict):
        return {k: mark_up(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [mark_up(v, key) for v in value]
    return (
        f"{value} {MARKUP}"
        if isinstance(value, str) and key in {"name", "painted", "text", "do", "explained", "why"}
        else value
    )


def test_markup_is_shown_as_text(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="begin")
    door.answers["end"] = Answer(False, MARKUP, None)
    door.show(lambda s: s.update(mark_up(s)), outcomes=tuple(mark_up(list(door.shown.outcomes))))
    page.locator("h1", has_text="<img").wait_for()
    page.locator("#words").fill("end")
    page.locator("#words").press("Enter")
    page.wait_for_selector("[data-answer=is-refused]")
    assert MARKUP in page.locator("[data-answer]").inner_text()
    for at in ("begin", "line", "line/wrong", "work/G31", "work/choose", "stock", "stock/w219", "line/find/w219"):
        page.evaluate("at => { location.hash = at; }", at)
        page.wait_for_selector(f".on-{at.split('/')[0]}")
        assert MARKUP in page.locator("main").inner_text().replace("\n", " "), at
    assert page.locator("img").count() == 0
    assert page.locator("#page script").count() == 0
    assert page.evaluate("window.hit") is None


def test_a_stopped_stream_freezes_the_picture_and_it_comes_back_right(
    open_page: Callable[..., Any], served: Listening, door: Any
) -> None:
    page = open_page(at="begin")
    page.wait_for_selector(".stream-mark.is-live")
    served.stop()
    stopped = time.monotonic()
    page.wait_for_selector("[data-frozen]")
    assert 2.5 < time.monotonic() - stopped < 6
    assert re.match(r"Frozen since \d\d:\d\d:\d\d", page.locator("[data-frozen]").inner_text())
    assert page.title().startswith("Frozen since")
    for name in ("line", "work", "stock", "begin"):
        page.locator(f"nav a[href='#{name}']").click()
        page.wait_for_selector(f".on-{name}.is-old")
        assert page.locator("[data-frozen]").is_visible()
        assert page.get_by_text("Nothing is wrong.").count() == 0
    page.locator("#words").fill("end")
    page.locator("#words").press("Enter")
    page.get_by_text("Numbertaker was not reached").first.wait_for()
    door.show(lambda s: s["session"].update(clock="20:30:00", clock_running=False))
    again = listen(create_app(door), served.host, served.port)
    try:
        began = time.monotonic()
        page.locator("[data-clock]", has_text="20:30:00").wait_for()
        assert time.monotonic() - began < 2
        page.wait_for_selector("[data-frozen]", state="detached")
    finally:
        again.stop()


def clock_s(page: Any) -> int:
    """What the clock on the page shows, in seconds."""
    hours, minutes, seconds = page.locator("[data-clock]").inner_text().split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds)


def test_the_clock_goes_on_where_no_board_says_a_word_and_stands_with_a_frozen_picture(
    open_page: Callable[..., Any], served: Listening, door: Any
) -> None:
    """A new session on silent boards: no other picture comes for six seconds."""
    page = open_page()
    rate = door.shown.snapshot["railway"]["clock_rate"]
    door.show(lambda s: s["session"].update(clock="19:00:00"))
    told = time.monotonic()
    page.wait_for_function("() => /^19:0[0-9]:/.test(document.querySelector('[data-clock]').textContent)")
    page.wait_for_function("() => document.querySelector('[data-clock]').textContent >= '19:00:04'")
    assert clock_s(page) - 19 * 3600 <= (time.monotonic() - told) * rate + 1
    assert time.monotonic() - told < 6  # else another picture might have come
    door.show(lambda s: s["session"].update(clock="19:00:02"))  # it was on its way for a moment: no clock is put back
    assert clock_s(page) >= 19 * 3600 + 4
    door.show(lambda s: s["session"].update(clock="18:30:00", clock_running=False))
    page.locator("[data-clock]", has_text="18:30:00").wait_for()
    door.show(lambda s: s["session"].update(clock="19:00:00", clock_running=True))
    page.wait_for_selector(".stream-mark.is-live")
    served.stop()
    page.wait_for_selector("[data-frozen]")
    stands = clock_s(page)
    page.locator("nav a[href='#stock']").click()
    page.wait_for_selector(".on-stock")
    page.wait_for_timeout(1200)  # longer than the page draws of itself
    assert clock_s(page) == stands


EMPTY = {
    "begin": "No railway folder is in force.",
    "line": "No stations yet.",
    "work": "No workings are booked.",
    "stock": "No vehicles: stock.csv names none.",
}


def test_empty_and_faulty_states_are_drawn(open_page: Callable[..., Any], door: Any) -> None:
    lists = ("stations", "sections", "trains", "moves", "irregularities", "boards", "detectors", "strange_tags")
    door.show(lambda s: s.update({key: [] for key in lists}))
    door.show(lambda s: s.update(railway=None, vehicles={}, troubles=["The disk is full."]))
    page = open_page(360, 740)
    assert "The disk is full." in page.locator("[data-troubles]").inner_text()
    for name, text in EMPTY.items():
        page.locator(f"nav a[href='#{name}']").click()
        page.get_by_text(text).first.wait_for()
        assert page.get_by_text("Nothing is known to be wrong.").count() == 1  # not "nothing is wrong": the disk is full
    door.show(lambda s: s.update(troubles=[]))
    page.get_by_text("Nothing is wrong.").wait_for()
    for name in EMPTY:
        page.locator(f"nav a[href='#{name}']").click()
        page.wait_for_selector(f".on-{name}")
        assert page.get_by_text("Nothing is wrong.").count() == 1  # said once
    page.locator("nav a[href='#line']").click()
    door.show(lambda s: s.update(trains=[{"id": "X1", "state": "at-station", "may_go": {"answer": "yes"}}]))
    page.wait_for_selector("[data-faulty=trains]")
    assert page.get_by_text("No stations yet.").is_visible()
    door.show(lambda s: s.update(trains=[], bad=float("nan")))
    page.wait_for_selector("[data-fault]")
    door.show(lambda s: s.pop("bad"))
    page.wait_for_selector("[data-fault]", state="detached")
    page.wait_for_selector("[data-faulty=trains]", state="detached")
    door.show(lambda s: s.clear())
    page.get_by_text("Waiting for the first picture").wait_for()


def test_before_and_after_the_session_each_page_says_so_and_leads_on(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(360, 740)
    for state, text in (("waiting", "The session has not begun."), ("ended", "The session has ended.")):
        door.show(lambda s, state=state: s["session"].update(state=state, clock=None, clock_running=False))
        for name in ("line", "work", "stock"):
            page.locator(f"nav a[href='#{name}']").click()
            page.locator("[data-next]", has_text=text).wait_for()
            assert page.locator(".next a[href='#begin']").bounding_box()["height"] >= 48


UNKEPT = {
    "since_t": 912.5,
    "since": "20:14",
    "records": 214,
    "why": "the disk is full",
    "do": "Make room on the disk that holds /home/ann/wren-vale.store.",
    "goes_on": True,
}


def test_what_is_not_on_the_disk_is_said_in_red_above_every_page(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(360, 740)
    door.show(lambda s: s.update(unkept=dict(UNKEPT)))
    banner = page.locator("[data-unkept=goes-on]")
    banner.wait_for()
    called = page.get_by_role("alert")
    assert called.inner_text().split("\n")[0] == "Not kept since 20:14: the disk is full."
    for words in ("The picture goes on.", UNKEPT["do"], "It is written by itself then. Do not switch off."):
        assert words in called.inner_text()
    assert "214 lines" in banner.inner_text()
    assert "214" not in called.inner_text()  # else it would be called out again with every line
    colour = banner.evaluate("e => getComputedStyle(e).backgroundColor")
    red, _, blue = (int(part) for part in re.findall(r"\d+", colour)[:3])
    assert red > 1.5 * blue
    for part in ("begin", "line", "work", "stock"):
        page.locator(f"nav a[href='#{part}']").click()
        page.wait_for_selector(f".on-{part}")
        box = banner.bounding_box()
        assert 0 <= box["y"] < 120, part
        assert box["height"] < 740 / 3, part
        assert box["width"] == 360, part
    assert page.locator(".pages-place.is-old").count() == 0
    door.show(lambda s: s["unkept"].update(goes_on=False, records=100_000))
    page.locator("[data-unkept=stands-still]").wait_for()
    assert "the picture stands still" in page.get_by_role("alert").inner_text()
    assert page.locator(".pages-place.is-old").count() == 1
    door.show(lambda s: s.update(unkept=None))
    page.wait_for_selector("[data-unkept]", state="detached")
    page.wait_for_selector(".pages-place.is-old", state="detached")
