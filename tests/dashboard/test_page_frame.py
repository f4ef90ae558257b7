"""What every page has in common, in a real browser: room and targets at three sizes, what an independent judge finds, the
keyboard alone, colours as the colour-blind see them, dark and bright."""

from __future__ import annotations

import base64
import itertools
import re
from collections.abc import Callable
from typing import Any

import pytest

from bridge.core import fold, state
from bridge.core.events import FolderTaken, Journalled
from bridge.core.view import view
from bridge.folder import load
from bridge.wire.records import Said

from ..endtoend.demonstration import folder

pytestmark = pytest.mark.wires

PAGES = (
    "begin",
    "line",
    "line/wrong",
    "line/place/w219",
    "line/arrange",
    "work/choose",
    "work/G31",
    "stock",
    "stock/w219",
    "stock/a rake",
)
TARGETS = "button, nav a, main a, section a, summary, input, select"
SMALL = """selector => [...document.querySelectorAll(selector)].filter((e) => e.checkVisibility()).map((e) => {
  const { width, height } = e.getBoundingClientRect();
  return width && (height < 47.9 || width < 47.9) ? `${e.tagName} ${e.textContent.slice(0, 30)} ${width}x${height}` : '';
}).filter(Boolean)"""


def go(page: Any, at: str) -> None:
    page.evaluate("at => { location.hash = at; }", at)
    page.wait_for_selector(f".on-{at.split('/', maxsplit=1)[0]}")


def nothing_heard(snapshot: dict[str, Any]) -> None:
    """Everything is unknown, for a reason of many words."""
    places = [place for station in snapshot["stations"] for place in (*station["roads"], *station["throats"])]
    template = snapshot["detectors"][0]
    for place in (*places, *snapshot["sections"]):
        place["state"] = "unknown"
        why = "not heard since the service started or this computer woke"
        row = {**template, "id": f"d-{place['id']}", "where": place["id"], "state": "unknown", "why": why}
        snapshot["detectors"].append(row)


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1280, 800), (1920, 1080)])
def test_no_page_goes_sideways_and_every_target_takes_a_thumb(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any], width: int, height: int
) -> None:
    door.show(lambda s: s["irregularities"].insert(0, dict(danger, places=["wrenfield-otterbeck"])))
    door.show(nothing_heard)
    page = open_page(width, height)
    for at in PAGES:
        go(page, at)
        page.wait_for_timeout(50)
        assert page.evaluate("document.documentElement.scrollWidth") == width, at
        assert page.evaluate(SMALL, TARGETS) == [], at
        nav = page.locator("nav.pages").bounding_box()
        assert (nav["y"] + nav["height"] == pytest.approx(height, abs=1)) if width < 1000 else nav["y"] == 0, at


FIRST = {
    "begin": "#boards .board, [data-next]",
    "line": "[data-train] .may-go",
    "work": "[data-choice]",
    "stock": "#seek",
}


def test_on_a_phone_the_important_thing_of_each_page_stands_above_the_fold(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(360, 740)
    foot = page.locator("nav.pages").bounding_box()["y"]
    for at, selector in FIRST.items():
        go(page, at)
        box = page.locator(selector).first.bounding_box()
        assert box["y"] + box["height"] <= foot, at
    door.show(lambda s: s["session"].update(state="waiting", clock=None, clock_running=False))
    go(page, "begin")
    box = page.get_by_role("button", name="Begin", exact=True).bounding_box()
    assert box["y"] + box["height"] <= foot


def demonstration() -> dict[str, Any]:
    """The demonstration railway as its session begins."""
    railway = load(folder()).railway
    assert railway is not None
    now, _ = fold.fold(state.fresh(), FolderTaken(0.0, railway))
    now, _ = fold.fold(now, Journalled(1, Said(1.0, None, "begin 19:00")))
    return view(now)


def test_the_demonstration_railway_fits_a_wall_screen(open_page: Callable[..., Any], door: Any) -> None:
    drawn = demonstration()
    door.show(lambda s: s.update(drawn))
    page = open_page(1920, 1080)
    assert page.locator(".station").count() == 5
    page.wait_for_function(
        "() => [...document.querySelectorAll('.plan .strip, .plan .caption')]"
        ".every((e) => e.getBoundingClientRect().bottom <= innerHeight)"
    )
    sizes = page.locator(".station h3, .road-name b, .caption").evaluate_all(
        "all => all.map((e) => parseFloat(getComputedStyle(e).fontSize) * (parseFloat(e.closest('.plan').style.zoom) || 1))"
    )
    assert min(sizes) >= 17


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_page(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any], scheme: str
) -> None:
    """axe-core with all its rules (WCAG 2 A and AA, and best practices), as axe-playwright-python brings it."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    door.show(lambda s: s["irregularities"].insert(0, dict(danger, places=["wrenfield-otterbeck"])))
    page = open_page(360, 740, color_scheme=scheme)
    for at in PAGES:
        go(page, at)
        if at == "stock/a rake":
            read = {"tag": "04FF77A0", "detector": "wren-out", "t": 1531.0}
            door.show(lambda s, read=read: s["tags_read"].append(read))
            page.wait_for_selector("[data-read]")
        found = axe.run(page).response["violations"]
        assert [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found] == [], at


def tab_to(page: Any, text: str) -> None:
    """Press Tab until what has the focus is named, or labelled, so."""
    told = """() => { const e = document.activeElement;
      return [e.getAttribute('aria-label'), e.labels?.[0]?.textContent, e.textContent].filter(Boolean)[0] ?? ''; }"""
    for _ in range(90):
        page.keyboard.press("Tab")
        if page.evaluate(told).startswith(text):
            return
    raise AssertionError(f"{text} is not reached by the keyboard")


def test_a_session_is_begun_corrected_and_ended_by_keyboard_alone(open_page: Callable[..., Any], door: Any) -> None:
    door.show(lambda s: s["session"].update(state="waiting", clock=None, clock_running=False))
    page = open_page(at="begin")
    tab_to(page, "Begin at")
    page.keyboard.press("Enter")
    door.wait_told("begin 18:40")
    door.show(lambda s: s["session"].update(state="running", clock="18:40:00", clock_running=True))
    page.get_by_role("button", name="Stop the clock").wait_for()
    tab_to(page, "Stock")
    page.keyboard.press("Enter")
    page.wait_for_selector("#seek")
    tab_to(page, "Number, name or id")
    page.keyboard.type("219")
    tab_to(page, "219")
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-one=w219]")
    tab_to(page, "Place")
    page.keyboard.type("Copper Hollow lo")
    page.keyboard.press("ArrowDown")
    tab_to(page, "It stands there")
    page.keyboard.press("Enter")
    door.wait_told("stands w219 copper-hollow.loading")
    tab_to(page, "Begin and end")
    page.keyboard.press("Enter")
    page.wait_for_selector("#clock")
    tab_to(page, "End the session")
    page.keyboard.press("Enter")
    page.get_by_text("End the session for everybody?").wait_for()
    tab_to(page, "Yes, end it")
    page.keyboard.press("Enter")
    door.wait_told("end")


PIXELS = """async (data) => {
  const image = await createImageBitmap(await (await fetch(data)).blob());
  const canvas = new OffscreenCanvas(image.width, image.height).getContext('2d');
  canvas.drawImage(image, 0, 0);
  const { data: bytes } = canvas.getImageData(0, 0, image.width, image.height);
  const part = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const lights = [], greys = [];
  for (let i = 0; i < bytes.length; i += 4) {
    const [r, g, b] = [bytes[i] / 255, bytes[i + 1] / 255, bytes[i + 2] / 255];
    const y = 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    lights.push(y > 0.008856 ? 116 * Math.cbrt(y) - 16 : 903.3 * y);
    greys.push(Math.max(r, g, b) - Math.min(r, g, b));
  }
  const mean = lights.reduce((a, b) => a + b) / lights.length;
  return [mean, Math.sqrt(lights.reduce((a, b) => a + (b - mean) ** 2, 0) / lights.length), Math.max(...greys)];
}"""
"""Of a picture: the mean of CIE 1976 lightness, its spread, and how far any pixel is from grey."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_states_of_the_line_stay_apart_for_the_colour_blind(
    open_page: Callable[..., Any], door: Any, browser: Any, scheme: str
) -> None:
    """As Chromium's own developer tools simulate it (Machado, Oliveira and Fernandes 2009; achromatopsia: grey alone).

    Two states are apart where their lightness or its pattern differs by 8 of 100: a just noticeable difference is about 2
    (common practice, no source). Each state's word and shape are held by `test_page.py`.
    """

    def three(snapshot: dict[str, Any]) -> None:
        for road, each in zip(snapshot["stations"][0]["roads"], ("clear", "occupied", "unknown"), strict=True):
            road.update(state=each, line=[])

    door.show(three)
    page = open_page(color_scheme=scheme, is_altered=True)
    strips = {each: page.locator(f"[data-station=wrenfield] .strip.is-{each}") for each in ("clear", "occupied", "unknown")}
    reader = browser.new_page()
    tools = page.context.new_cdp_session(page)
    for kind in ("none", "protanopia", "deuteranopia", "tritanopia", "achromatopsia"):
        tools.send("Emulation.setEmulatedVisionDeficiency", {"type": kind})
        seen = {}
        for each, strip in strips.items():
            box = strip.bounding_box()  # of its inside: not the edge, not the buffer stop
            inside = {"x": box["x"] + 8, "y": box["y"] + 6, "width": box["width"] - 16, "height": box["height"] - 12}
            picture = base64.b64encode(page.screenshot(clip=inside)).decode()
            seen[each] = reader.evaluate(PIXELS, f"data:image/png;base64,{picture}")
        if kind == "achromatopsia":
            assert max(grey for _, _, grey in seen.values()) < 0.02  # it was simulated indeed
        for one, other in itertools.combinations(seen, 2):
            apart = max(abs(a - b) for a, b in zip(seen[one][:2], seen[other][:2], strict=True))
            assert apart >= 8, (kind, one, other, seen)
    reader.close()


def test_dark_or_bright_is_as_the_system_has_it_or_as_chosen_on_this_device(open_page: Callable[..., Any]) -> None:
    page = open_page(at="begin", color_scheme="dark", is_altered=True)
    ground = "() => getComputedStyle(document.documentElement).backgroundColor"
    light = lambda: sum(int(part) for part in re.findall(r"\d+", page.evaluate(ground))) / 3  # noqa: E731
    assert light() < 60
    page.locator("[data-choose=bright]").click()
    page.wait_for_selector("[data-choose=bright][aria-pressed=true]")
    assert light() > 200
    page.reload()
    page.wait_for_selector("[data-choose=bright][aria-pressed=true]")
    assert light() > 200
    page.locator("[data-choose=system]").click()
    assert light() < 60
    page.emulate_media(color_scheme="light")
    page.wait_for_function("() => document.documentElement.dataset.look === 'bright'")
    assert light() > 200


LOCALES = {
    "en-GB": ("19:42:10", "440 / 1,320 mm"),
    "de-DE": ("19:42:10", "440 / 1.320 mm"),
    "fi-FI": ("19.42.10", "440 / 1\u00a0320 mm"),
}


@pytest.mark.parametrize("locale", LOCALES)
def test_times_and_numbers_are_written_as_the_reader_s_country_writes_them(
    open_page: Callable[..., Any], door: Any, locale: str
) -> None:
    """As CLDR has it for that country, which Chromium carries; of twelve hours nowhere."""
    door.show(lambda s: s["session"].update(clock_running=False))
    page = open_page(360, 740, locale=locale)
    time, room = LOCALES[locale]
    assert page.locator("[data-clock]").inner_text() == time
    assert page.locator(".room").first.text_content() == room
