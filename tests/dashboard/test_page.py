"""The page in a real browser: what one picture looks like, on a phone and on a wall."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.wires


def go(page: Any, at: str) -> None:
    """To another page of the application, until that is drawn."""
    page.evaluate("at => { location.hash = at; }", at)
    page.wait_for_selector(f".on-{at.split('/', maxsplit=1)[0]}")


def width_px(page: Any, selector: str) -> float:
    return float(page.locator(selector).first.bounding_box()["width"])


def test_the_line_stands_to_scale_with_what_is_on_it(open_page: Callable[..., Any]) -> None:
    page = open_page()
    names = page.locator(".station h3").all_inner_texts()
    assert names == ["Wrenfield", "Otterbeck Junction", "Sandle Quay", "Copper Hollow"]
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
    dock = page.locator(".station[data-station=wrenfield] .road >> nth=2 >> .caption-vehicle").all_inner_texts()
    assert dock == ["340 (w340)", "341 (w341) probably"]


def test_nobody_is_asked_to_look_for_what_goes_with_a_train(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page()
    station = page.locator(".station[data-station=otterbeck]")
    blocks = station.locator(".road >> nth=2 >> .block")
    guessed = next(
        v["id"] for v in door.shown.snapshot["vehicles"].values() if v["sure"] < 0.6 and v["place"].startswith("otter")
    )
    assert "please look" in station.inner_text()
    door.show(lambda s: s["vehicles"][guessed].update(train="G12"))
    page.wait_for_function(
        "() => !document.querySelector('.station[data-station=otterbeck]').innerText.includes('please look')"
    )
    assert "is-guessed" in blocks.nth(2).get_attribute("class")  # it is drawn as what it is all the same


def test_what_is_probable_of_a_whole_rake_is_said_once(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page()
    quay = page.locator(".station[data-station=sandle-quay] .caption-group:has-text('610')")
    assert re.sub(r"\s+", " ", quay.inner_text()) == "probably: 610 (w610) 611 (w611)"
    door.show(lambda s: s["vehicles"]["w611"].update(sure=0.99))
    page.wait_for_function("text => document.body.innerText.includes(text)", arg="610 (w610) probably")
    assert "probably:" not in quay.inner_text()
    assert quay.locator(".caption-vehicle").all_inner_texts() == ["610 (w610) probably", "611 (w611)"]


def test_a_vehicle_is_named_by_its_painted_number_and_its_id_in_one_way(open_page: Callable[..., Any], door: Any) -> None:
    moved = {"says": "move", "vehicle": "w407", "to": "otterbeck.coal", "state": "in-train", "n": 9000, "clock": "19:40:00"}
    door.show(lambda s: s["irregularities"][0].update(because=["w407", "G12"]), outcomes=(*door.shown.outcomes, moved))
    wide, phone = open_page(at="line/wrong"), open_page(360, 740)
    assert "Because of: 407 (w407), G12" in wide.locator("#irregularities").inner_text()
    for page in (wide, phone):
        assert page.locator("#drawing .caption-vehicle .vehicle[title='407 (w407)']").count() == 1
    widths = [p.locator("#drawing .caption-vehicle .vehicle-id").first.bounding_box()["width"] for p in (wide, phone)]
    assert widths[0] > 20
    assert widths[1] <= 1
    go(wide, "begin")
    assert "Move of 407 (w407) to Otterbeck Junction coal: in train" in wide.locator("#register").inner_text()
    go(wide, "work/G12")
    assert "407 (w407)" in wide.locator(".moves").text_content()
    assert "engine 12 (e12)" in wide.locator(".work-head").inner_text()
    small = "v => getComputedStyle(v).fontSize"
    mark = wide.locator(".task-vehicle .vehicle-id").first
    assert float(mark.evaluate(small)[:-2]) < float(mark.locator("xpath=..").evaluate(small)[:-2])
    door.show(lambda s: s["vehicles"]["w407"].update(painted=""))
    wide.locator(".task-vehicle", has_text=re.compile(r"^w407$")).wait_for()


AUTHORITIES = [
    ("token", "token", "token"),
    ("staff-and-ticket", "token", "staff"),
    ("staff-and-ticket", "ticket", "ticket"),
    ("one-train", "section", "line clear"),
    ("track-circuit", "section", "line clear"),
    ("one-train", "told", "told"),
    ("token", "assisting", "assisting"),
]


def test_authority_is_called_by_the_rule_of_the_section(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page()
    for rule, why, word in AUTHORITIES:
        door.show(lambda s, r=rule, w=why: s["sections"][0].update(rule=r, authority=[{"train": "G12", "why": w}]))
        page.get_by_text(f"Authority: G12 ({word})", exact=True).wait_for()


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
    page = open_page(at="line/wrong")
    cause = page.locator("[data-irregularity=board-lost-1]")
    assert "Nothing can be said of the section to Sandle Quay." in cause.inner_text()
    assert page.locator("[data-irregularity=section-unknown-1]").count() == 0
    assert re.sub(r"\s+", " ", page.locator(".wrong-counts").inner_text()).upper() == "2 CAUTIONS"


def test_trains_tell_calls_lateness_whether_they_may_go_and_how_sure_their_moves_are(open_page: Callable[..., Any]) -> None:
    page = open_page()
    g12, p3 = page.locator("[data-train=G12]"), page.locator("[data-train=P3]")
    assert "in section Wrenfield–Otterbeck Junction" in g12.inner_text()
    assert "1 min late" in g12.inner_text()
    assert g12.locator(".may-go").count() == 0
    may_go = "Not yet: G12 to arrive and clear wrenfield-otterbeck, about 4 min. The crew decides."
    assert may_go in p3.locator(".may-go").inner_text()
    assert "To come: P5" in page.locator("#trains").inner_text()
    go(page, "work/choose")
    page.get_by_text("Guard's lists of all workings").click()
    g12_list, g31_list = (page.locator(f"[data-train={train}]").inner_text() for train in ("G12", "G31"))
    assert re.search(r"407 \(w407\)\s*Wrenfield loop → Otterbeck Junction coal\s*probably in train", g12_list)
    assert re.search(r"118 \(w118\)\s*Wrenfield loop → Sandle Quay quay\s*in train", g12_list)
    assert re.search(r"219 \(w219\)\s*Otterbeck Junction coal → Copper Hollow loading\s*not seen: please look", g31_list)
    assert re.search(r"210 \(w210\)\s*Copper Hollow loading → Otterbeck Junction coal\s*failed", g31_list)


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


def test_what_is_unknown_says_why(open_page: Callable[..., Any], door: Any) -> None:
    """By word, by shape (hatched), and with the service's own reason: on the line and at the boards."""

    def lost(snapshot: dict[str, Any]) -> None:
        for detector in snapshot["detectors"]:
            detector["why"] = None
            if detector["id"] == "wren-loop":
                detector.update(state="unknown", why="its board is lost")
        next(road for road in snapshot["stations"][0]["roads"] if road["id"] == "wrenfield.loop")["state"] = "unknown"

    door.show(lost)
    for page in (open_page(), open_page(width=390)):
        go(page, "line")
        road = page.locator(".station[data-station=wrenfield] .road").filter(has_text="loop").first
        assert "unknown" in road.locator(".road-name").inner_text()
        assert road.locator(".why").inner_text() == "its board is lost"
        assert "repeating-linear-gradient" in road.locator(".strip").evaluate("e => getComputedStyle(e).backgroundImage")
        go(page, "begin")
        row = page.locator("[data-detector=wren-loop]")
        assert "its board is lost" in row.text_content()
        assert row.locator(".sample.is-unknown").count() == 1
        assert page.locator("[data-detector=wren-platform] .why").count() == 0
