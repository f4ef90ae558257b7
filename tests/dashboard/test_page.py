"""The page in a real browser: what one picture looks like, on a phone and on a wall."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.wires


def width_px(page: Any, selector: str) -> float:
    return float(page.locator(selector).first.bounding_box()["width"])


def test_the_line_stands_to_scale_with_what_is_on_it(open_page: Callable[..., Any]) -> None:
    page = open_page()
    names = page.locator(".station h3").all_inner_texts()
    assert names == ["Wrenfield", "Otterbeck Junction", "Copper Hollow", "Sandle Quay"]
    strips = {
        1320: ".station[data-station=wrenfield] .strip >> nth=0",
        520: ".station[data-station=wrenfield] .strip >> nth=2",
    }
    widths = {mm: width_px(page, selector) for mm, selector in strips.items()}
    assert widths[1320] / widths[520] == pytest.approx(1320 / 520, rel=0.01)
    engine = width_px(page, ".station[data-station=otterbeck] .kind-engine")
    assert engine / widths[1320] == pytest.approx(210 / 1320, rel=0.03)
    blocks = page.locator(".station[data-station=otterbeck] .road >> nth=2 >> .block")
    assert [re.findall(r"is-(\w+)", b.get_attribute("class"))[0] for b in blocks.all()] == ["seen", "seen", "guessed"]
    assert blocks.nth(2).inner_text() == "?"
    assert "? not seen: please look" in page.locator(".station[data-station=otterbeck]").inner_text()
    assert page.locator(".station[data-station=wrenfield] .stop-left").count() == 3
    assert "340 · 341 probably" in page.locator(".station[data-station=wrenfield]").inner_text().replace("\n", " ").replace(
        "340 341", "340 · 341"
    )


def test_each_state_has_its_word_and_its_shape(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page()
    look = "s => { const c = getComputedStyle(s); return [c.backgroundImage, c.backgroundColor, c.borderTopStyle].join() }"
    seen = {}
    for each in ("clear", "occupied", "unknown", "unwatched"):
        door.show(lambda s, each=each: s["stations"][0]["roads"][1].update(state=each))
        road = page.locator(f".road:has(.strip.is-{each}[data-kind=loop]) >> nth=0")
        road.wait_for()
        assert each in road.locator(".state").inner_text()
        seen[each] = road.locator(".strip").evaluate(look)
    assert len(set(seen.values())) == 4, seen


def test_at_360_pixels_stations_stand_below_one_another_and_nothing_is_cut_off(open_page: Callable[..., Any]) -> None:
    page = open_page(360, 740)
    boxes = [s.bounding_box() for s in page.locator(".station").all()]
    assert all(upper["y"] + upper["height"] <= lower["y"] for upper, lower in itertools.pairwise(boxes))
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 360 for box in boxes)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    small = [b.inner_text() for b in page.locator("button:visible, nav a").all() if b.bounding_box()["height"] < 48]
    assert small == []


def test_on_a_wide_screen_the_line_runs_along_and_the_branch_below_its_junction(open_page: Callable[..., Any]) -> None:
    page = open_page(1920, 1080)
    at = {s.get_attribute("data-station"): s.bounding_box() for s in page.locator(".station").all()}
    assert at["wrenfield"]["y"] == at["otterbeck"]["y"] == at["sandle-quay"]["y"] < at["copper-hollow"]["y"]
    assert at["wrenfield"]["x"] < at["otterbeck"]["x"] < at["sandle-quay"]["x"]
    assert at["copper-hollow"]["x"] > at["otterbeck"]["x"]
    assert page.locator(".rails path.rail").count() >= 15


def test_what_follows_from_another_stands_inside_it(open_page: Callable[..., Any]) -> None:
    page = open_page()
    cause = page.locator("[data-irregularity=board-lost-1]")
    assert "Nothing can be said of the section to Sandle Quay." in cause.inner_text()
    assert page.locator("[data-irregularity=section-unknown-1]").count() == 0
    assert page.locator("nav a[href='#irregularities'] .count").inner_text() == "3"


def test_trains_tell_calls_lateness_and_how_sure_their_moves_are(open_page: Callable[..., Any]) -> None:
    page = open_page()
    g12, g31 = page.locator("[data-train=G12]").inner_text(), page.locator("[data-train=G31]").inner_text()
    assert "in section Wrenfield–Otterbeck Junction" in g12
    assert "1 min late" in g12
    assert re.search(r"407\s*Wrenfield loop → Otterbeck Junction coal\s*probably in train", g12)
    assert re.search(r"118\s*Wrenfield loop → Sandle Quay quay\s*in train", g12)
    assert re.search(r"219\s*Otterbeck Junction coal → Copper Hollow loading\s*not seen: please look", g31)
    assert re.search(r"210\s*Copper Hollow loading → Otterbeck Junction coal\s*failed", g31)
    assert page.locator(".train:visible").first.get_attribute("data-train") == "G12"


FAINT = """() => {
  const parse = (c) => c.match(/[\\d.]+/g).map(Number);
  const part = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const lum = ([r, g, b]) => 0.2126 * part(r / 255) + 0.7152 * part(g / 255) + 0.0722 * part(b / 255);
  const ground = (e) => {
    for (; e; e = e.parentElement) {
      const style = getComputedStyle(e);
      if (style.backgroundImage !== 'none') return null;
      const colour = parse(style.backgroundColor);
      if ((colour[3] ?? 1) > 0.99) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const e of document.querySelectorAll('#page *')) {
    if (![...e.childNodes].some((n) => n.nodeType === 3 && n.nodeValue.trim())) continue;
    const back = ground(e);
    if (!back) continue;
    const [a, b] = [lum(parse(getComputedStyle(e).color)), lum(back)];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) found.push(`${e.className}: ${e.textContent.slice(0, 30)} ${ratio.toFixed(2)}`);
  }
  return found;
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(
    open_page: Callable[..., Any], door: Any, scheme: str, danger: dict[str, Any]
) -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1 (relative luminance as defined there)."""
    door.show(lambda s: s["irregularities"].append(dict(danger)))
    page = open_page(color_scheme=scheme)
    faint = page.evaluate(FAINT)
    assert faint == []


LAYOUT = """async ([stations, sections, abreast]) => {
  const { layOut } = await import('./layout.js');
  const rows = layOut(stations.map((id) => ({ id })), sections.map(([from, to], i) => ({ id: `s${i}`, from, to })), abreast);
  return rows.map((r) => r.cells.map((c) => `${c.id}${c.turned ? '<' : ''}@${c.column}`));
}"""

LAID = [
    ("ab", [("a.down", "b.up")], 1, ["a@0", "s0<@null", "b@0"]),
    ("ab", [("b.up", "a.down")], 2, ["a@0 s0<@1 b@2"]),
    ("abc", [("a.down", "b.up"), ("b.down", "c.up")], 2, ["a@0 s0@1 b@2", "s1<@null", "c@0"]),
    ("abc", [("a.down", "b.down"), ("b.up", "c.up")], 3, ["a@0 s0@1 b<@2 s1@3 c@4"]),
    ("abcd", [("a.down", "b.up"), ("b.down", "c.up"), ("b.down", "d.up")], 3, ["a@0 s0@1 b@2 s1@3 c@4", "s2@3 d@4"]),
    ("abcd", [("a.down", "b.up"), ("b.down", "c.up"), ("b.up", "d.down")], 3, ["a@0 s0@1 b@2 s1@3 c@4", "d@0 s2<@1"]),
    ("abc", [("a.down", "b.up"), ("b.down", "c.up"), ("c.down", "a.up")], 3, ["a@0 s0@1 b@2 s1@3 c@4", "s2@null"]),
    ("ab", [], 2, ["a@0", "b@0"]),
    ("a", [("a.down", "nowhere.up")], 1, ["a@0"]),
]


def test_the_sections_lay_out_the_line(open_page: Callable[..., Any]) -> None:
    """Each row: what stands in which column; "<" is turned round, "null" takes the whole width."""
    page = open_page()
    for stations, sections, abreast, rows in LAID:
        laid = page.evaluate(LAYOUT, [list(stations), [list(s) for s in sections], abreast])
        assert [set(row) for row in laid] == [set(row.split()) for row in rows], (stations, sections, abreast)
