"""The page in a real browser with a truth beside the picture: both strips, what differs, and the switch that puts it away.

The truth is made by hand: it says of the example's picture that all is so, but for what a test changes.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest

from bridge.dashboard import Listening, create_app, listen

from .conftest import PORT

pytestmark = pytest.mark.wires

SIZES = [(360, 740), (1280, 800), (1920, 1080)]


class HandTruth:
    """A truth that the test tells; `asked` counts how often it was asked for."""

    def __init__(self) -> None:
        self.moved: dict[str, str] = {}
        self.wrong: list[dict[str, Any]] = []
        self.partly: list[str] = []
        self.fresh: list[str] = []
        self.asked = threading.Semaphore(0)
        self.fails: Exception | None = None

    def __call__(self, snapshot: Mapping[str, Any]) -> Mapping[str, Any]:
        self.asked.release()
        if self.fails is not None:
            raise self.fails
        told = [s for station in snapshot["stations"] for s in (*station["roads"], *station["throats"])]
        lines = {s["id"]: [v for v in s["line"] if v not in self.moved] for s in (*told, *snapshot["sections"])}
        for vehicle, place in self.moved.items():
            lines[place].append(vehicle)
        trains = {vehicle: row["train"] for vehicle, row in snapshot["vehicles"].items()}
        strips = {
            s: {"line": line, "partly": [v for v in line if v in self.partly], "fresh": s in self.fresh}
            for s, line in lines.items()
        }
        tokens = {snapshot["sections"][0]["id"]: {"station": None, "train": "G12"}}
        return {"t": 100.0, "strips": strips, "trains": trains, "tokens": tokens, "wrong": self.wrong}

    def move(self, vehicles: list[str], believed: str, true: str) -> None:
        """Vehicles are elsewhere than the picture says."""
        self.moved.update(dict.fromkeys(vehicles, true))
        self.wrong.append(
            row("elsewhere", vehicles=vehicles, believed=believed, true=[true], strips=[believed, true], since_s=74.0)
        )


def row(what: str, **keys: Any) -> dict[str, Any]:
    return {"what": what, "strips": [], "believed": [], "true": [], "runs": False, "since_s": 3.2, **keys}


@pytest.fixture
def truth() -> HandTruth:
    return HandTruth()


@pytest.fixture
def served(door: Any, truth: HandTruth) -> Iterator[Listening]:
    listening = listen(create_app(door, truth=truth), "127.0.0.1", PORT[0])
    PORT[0] = listening.port
    yield listening
    listening.stop()


def clean(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def true_words(page: Any, stretch: str) -> Any:
    return page.locator(f"[data-true='{stretch}']")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_where_all_is_so_both_strips_stand_one_under_the_other(
    open_page: Callable[..., Any], width: int, height: int
) -> None:
    page = open_page(width, height)
    page.locator(".truth-list", has_text="Nowhere: what is believed is so.").wait_for()
    assert "The boards are simulated" in page.locator(".truth").inner_text()
    assert "With real boards there is no such thing" in page.locator(".truth").inner_text()
    roads = page.locator(".road:has(.strip[data-open])")
    assert roads.count() >= 8
    for road in roads.all():
        believed, true = (road.locator(strip).bounding_box() for strip in (".strip[data-open]", ".strip.is-true"))
        assert believed["y"] + believed["height"] <= true["y"]
        assert (true["x"], true["width"]) == pytest.approx((believed["x"], believed["width"]), abs=0.6)
        assert road.locator(".strip.is-true .block").count() == road.locator(".strip[data-open] .block").count()
        assert clean(road.locator(".true-words").inner_text()) == "= so it is"
    assert page.locator("[data-differs=true], .block.differs").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_vehicles_that_are_elsewhere_are_marked_in_both_strips_and_named(
    open_page: Callable[..., Any], truth: HandTruth, width: int, height: int
) -> None:
    truth.move(["w340", "w341"], "wrenfield.dock", "wrenfield.loop")
    page = open_page(width, height)
    item = page.locator("[data-wrong=elsewhere]")
    item.wait_for()
    said = "≠ 340 (w340), 341 (w341): believed at Wrenfield dock, really at Wrenfield loop for 74 s"
    assert clean(item.inner_text()) == said
    here, left = true_words(page, "wrenfield.loop"), true_words(page, "wrenfield.dock")
    assert "≠ really: 340 (w340), 341 (w341) here, believed at Wrenfield dock" in clean(here.text_content())
    assert "≠ really: 340 (w340), 341 (w341) not here, but at Wrenfield loop" in clean(left.text_content())
    dock = page.locator(".road:has([data-true='wrenfield.dock'])")
    loop = page.locator(".road:has([data-true='wrenfield.loop'])")
    assert dock.locator(".strip[data-open] .block.differs").count() == 2
    assert loop.locator(".strip.is-true .block.differs").count() == 2
    assert dock.locator(".strip.is-true .block.differs").count() == 0
    assert "≠" in loop.locator(".strip.is-true .block.differs").first.inner_text()  # not by colour alone
    assert page.locator("[data-differs=true]").count() == 2
    assert page.evaluate("document.documentElement.scrollWidth") == width


WRONG = [
    (
        row("order", where="wrenfield.dock", strips=["wrenfield.dock"], believed=["w340", "w341"], true=["w341", "w340"]),
        "Wrenfield dock: the order is 341 (w341), 340 (w340), believed is 340 (w340), 341 (w341)",
        "in this order: 341 (w341), 340 (w340)",
    ),
    (
        row("not-clear", where="wrenfield.dock", strips=["wrenfield.dock"], true=["w340"]),
        "Wrenfield dock: said to be clear, and occupied by 340 (w340)",
        "not clear: 340 (w340)",
    ),
    (
        row("not-occupied", where="wrenfield.dock", strips=["wrenfield.dock"]),
        "Wrenfield dock: said to be occupied, and clear",
        "clear, nothing is here",
    ),
    (
        row("rake", train="G12", believed=["w340"], true=["w341"], runs=True),
        "G12: believed with it, not coupled: 340 (w340); coupled, not believed: 341 (w341)",
        None,
    ),
    (row("rake", train="G12", believed=["w340"]), "G12: believed with it, not coupled: 340 (w340)", None),
]


def test_each_way_of_being_wrong_has_its_words(open_page: Callable[..., Any], truth: HandTruth) -> None:
    page = open_page()
    for wrong, listed, beside in WRONG:
        page.locator(".truth-list", has_text="Nowhere").wait_for()
        assert page.locator("[data-differs=true], [data-wrong]").count() == 0
        truth.wrong.append(wrong)
        item = page.locator(f"[data-wrong={wrong['what']}]")
        item.wait_for()
        assert clean(item.inner_text()) == f"≠ {listed} for 3 s" + (", on the move" if wrong["runs"] else "")
        assert page.locator("[data-differs=true]").count() == (beside is not None)
        if beside is not None:
            assert f"≠ really: {beside}" in clean(true_words(page, "wrenfield.dock").inner_text())
        truth.wrong.clear()


def test_a_section_tells_its_trains_and_who_has_the_token(
    open_page: Callable[..., Any], truth: HandTruth, door: Any
) -> None:
    section = door.shown.snapshot["sections"][0]["id"]
    truth.wrong.append(row("section", where=section, strips=[section], believed=["G12"], true=["P3", "G31"]))
    page = open_page()
    page.locator("[data-wrong=section]").wait_for()
    assert (
        "believed in it, not there: G12; there, not believed: P3, G31" in page.locator("[data-wrong=section]").inner_text()
    )
    words = clean(true_words(page, section).inner_text())
    assert "in it: P3, G31; not in it: G12" in words
    assert "Token with G12" in words


def test_what_is_only_partly_there_stands_lower_and_what_has_just_changed_is_called_so(
    open_page: Callable[..., Any], truth: HandTruth
) -> None:
    truth.partly.append("w340")
    truth.fresh.append("wrenfield.dock")
    page = open_page()
    page.wait_for_selector(".block.is-partly")
    blocks = page.locator(".road:has([data-true='wrenfield.dock']) .strip.is-true .block").all()
    heights = [block.bounding_box()["height"] for block in blocks]
    assert heights[0] < heights[1]
    assert clean(true_words(page, "wrenfield.dock").inner_text()) == "… just changing"
    assert clean(true_words(page, "wrenfield.loop").inner_text()) == "= so it is"


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1280, 800)])
def test_the_switch_puts_it_away_for_this_device_and_asks_no_more(
    open_page: Callable[..., Any], truth: HandTruth, width: int, height: int
) -> None:
    truth.move(["w340"], "wrenfield.dock", "wrenfield.loop")
    page = open_page(width, height)
    page.wait_for_selector("[data-wrong]")
    switch = page.get_by_role("button", name="Show the truth")
    assert switch.get_attribute("aria-pressed") == "true"
    assert switch.bounding_box()["height"] >= 48
    switch.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-truth=away]")
    assert page.locator(".strip.is-true, .true-words, [data-wrong], .block.differs").count() == 0
    while truth.asked.acquire(blocking=False):
        pass
    page.reload()
    page.wait_for_selector("[data-truth=away]")
    assert not truth.asked.acquire(timeout=1.2)  # a page that shows it asks twice in that time
    page.get_by_role("button", name="Show the truth").focus()
    page.keyboard.press("Space")
    page.wait_for_selector("[data-wrong]")
    assert page.evaluate("document.activeElement.textContent") == "Show the truth"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "truth-list"


def test_the_line_below_stands_still_while_the_list_grows(open_page: Callable[..., Any], truth: HandTruth) -> None:
    page = open_page(360, 740)
    page.locator(".truth-list", has_text="Nowhere").wait_for()
    before = page.locator(".plan").bounding_box()["y"]
    truth.wrong += [row("rake", train=f"G{n}", believed=["w340"]) for n in range(30)]
    page.locator("[data-wrong] >> nth=29").wait_for()
    assert page.locator(".plan").bounding_box()["y"] == before
    assert page.locator(".truth-list").evaluate("l => l.scrollHeight > l.clientHeight")


def test_a_truth_that_cannot_be_told_is_called_so_and_the_picture_goes_on(
    open_page: Callable[..., Any], truth: HandTruth, door: Any
) -> None:
    truth.fails = RuntimeError("the boards have stopped")
    page = open_page()
    page.locator(".truth-list", has_text="the boards have stopped").wait_for()
    assert page.locator(".strip.is-true").count() == 0
    door.show(lambda s: s["session"].update(clock="20:11:12", clock_running=False))
    page.locator("[data-clock]", has_text="20:11:12").wait_for()
    truth.fails = None
    page.wait_for_selector(".strip.is-true")


def test_without_a_truth_there_is_no_trace_of_it(browser: Any, door: Any) -> None:
    listening = listen(create_app(door), "127.0.0.1", 0)
    page = browser.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(listening.url)
    page.wait_for_selector(".part")
    door.show(lambda s: s["session"].update(clock="20:11:12", clock_running=False))
    page.locator("[data-clock]", has_text="20:11:12").wait_for()
    assert page.locator(".truth, .strip.is-true").count() == 0
    assert not [url for url in asked if url.endswith("api/truth")]
    page.close()
    listening.stop()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_its_words_stand_out_from_their_ground(open_page: Callable[..., Any], truth: HandTruth, scheme: str) -> None:
    """WCAG 2.2, success criterion 1.4.3, as `test_page.py` measures it."""
    from .test_page import FAINT

    truth.move(["w340"], "wrenfield.dock", "wrenfield.loop")
    page = open_page(color_scheme=scheme)
    page.wait_for_selector("[data-wrong]")
    assert page.evaluate(FAINT) == []
