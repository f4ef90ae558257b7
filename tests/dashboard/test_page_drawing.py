"""The line drawn in a real browser of railways that nobody has laid out by hand: nothing covers anything, at any width."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import pytest

from bridge.core import fold, state
from bridge.core.events import FolderTaken, Journalled
from bridge.core.view import view
from bridge.folder import read
from bridge.virtual.growing.railway import grow
from bridge.wire.records import Said

pytestmark = pytest.mark.wires

AT_LEFT = "() => document.querySelector('[data-station=copper-hollow]').getBoundingClientRect().left"
SIZES = [(360, 740), (1280, 800), (1920, 1080)]
OVER = """stations => {
  const drawn = [...document.querySelectorAll('[data-station]')].map((e) => e.dataset.station);
  if (drawn.length !== stations.length || !stations.every((id) => drawn.includes(id))) return null;
  const what = 'h3, h4, .road-name > *, .strip, .caption-group, .room, .mark-word';
  const box = (e) => {
    const whole = e.getBoundingClientRect();
    if (!e.matches('h3, h4')) return whole;
    const range = document.createRange();  // beside the letters of a name nothing is drawn
    range.selectNodeContents(e);
    const { left, right, top, bottom } = range.getBoundingClientRect();
    const [l, r] = [Math.max(left, whole.left), Math.min(right, whole.right)];
    return { left: l, right: r, top, bottom, width: r - l, height: bottom - top };
  };
  const boxes = [...document.querySelectorAll(`.plan :is(${what})`)].map((e) => [e, box(e)])
    .filter(([e, box]) => e.checkVisibility() && box.width > 1 && box.height > 1);
  return boxes.flatMap(([e, a], i) => boxes.slice(i + 1).filter(([f, b]) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1.5
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1.5 && !e.contains(f) && !f.contains(e))
    .map(([f]) => `${e.outerHTML.slice(0, 90)} / ${f.outerHTML.slice(0, 90)}`));
}"""
"""What covers what on the line, of its names, strips and words; null while it is not drawn yet."""
FIRST_ROADS = """first => Object.entries(first).every(([station, road]) =>
  document.querySelector(`[data-station='${station}'] .road`)?.dataset.place === road)"""
"""True once the first road of each of these stations is drawn first."""
IS_FREE = f"""([stations, first, width]) => ({FIRST_ROADS})(first) && ({OVER})(stations)?.length === 0
  && document.documentElement.scrollWidth === width"""
"""True once these stations are drawn, their first roads first, nothing covers anything, and the page is so wide."""
STANDS_STILL = """() => {
  const now = JSON.stringify([...document.querySelectorAll('.plan .strip')].map((e) => e.getBoundingClientRect()));
  const same = now === window.was;
  window.was = now;
  return same;
}"""
"""True once the strips lie where they lay when last asked."""


def grown(seed: int) -> dict[str, Any]:
    """The railway of a seed as its session begins."""
    railway = read({name: text.encode() for name, text in grow(seed).texts.items()}).railway
    assert railway is not None
    now, _ = fold.fold(state.fresh(), FolderTaken(0.0, railway))
    now, _ = fold.fold(now, Journalled(1, Said(1.0, None, "begin 19:00")))
    return view(now)


def moved(drawn: dict[str, Any], seed: int) -> dict[str, Any]:
    """Each station pushed somewhere, much further to the side than there can be room for, its roads in another order."""
    chance = random.Random(seed)
    for station in drawn["stations"]:
        roads = [road["id"] for road in station["roads"]]
        chance.shuffle(roads)
        at = {"right": chance.randint(-40, 40), "down": chance.choice([0, 3, 12])}
        drawn["drawn"].append({"station": station["id"], **at, "roads": roads})
    return drawn


def draw_railways(open_page: Callable[..., Any], door: Any, seeds: range) -> None:
    pages = [open_page(width, height) for width, height in SIZES]
    for seed in [*seeds, *(-seed for seed in seeds)]:
        drawn = grown(seed) if seed > 0 else moved(grown(-seed), -seed)
        door.show(lambda s, drawn=drawn: (s.clear(), s.update(drawn)))
        stations = [station["id"] for station in drawn["stations"]]
        first = {row["station"]: row["roads"][0] for row in drawn["drawn"]}
        for page in pages:
            width = page.viewport_size["width"]
            try:
                page.wait_for_function(IS_FREE, arg=[stations, first, width])
            except Exception as in_vain:
                is_wide = page.evaluate("document.documentElement.scrollWidth")
                in_vain.add_note(f"seed {seed}, {width} wide: {page.evaluate(OVER, stations)}, {is_wide} wide")
                raise


def test_nothing_on_the_line_covers_anything_by_itself_or_moved(open_page: Callable[..., Any], door: Any) -> None:
    draw_railways(open_page, door, range(1, 4))


@pytest.mark.slow
def test_nothing_on_the_line_covers_anything_on_fifty_railways(open_page: Callable[..., Any], door: Any) -> None:
    draw_railways(open_page, door, range(5, 55))


def test_a_branch_goes_to_the_side_as_far_as_there_is_room_and_not_one_step_further(
    open_page: Callable[..., Any], door: Any, until: Callable[..., None]
) -> None:
    page = open_page(1920, 1080, at="line/arrange")
    page.wait_for_function(STANDS_STILL, polling=300)
    before = page.evaluate(AT_LEFT)
    for right, least, most in ((-10, -200, -60), (-40, -800, -250), (40, 0, 80)):
        row = {"station": "copper-hollow", "right": right, "down": 0, "roads": []}
        door.show(lambda s, row=row: s.update(drawn=[row]))
        moved = f"([was, least, most]) => {{ const by = ({AT_LEFT})() - was; return least <= by && by <= most; }}"
        page.wait_for_function(moved, arg=[before, least, most])
    assert page.get_by_text("No more room on that side").is_visible()
    page.get_by_role("button", name="Copper Hollow to the right").click()
    assert [words for words, _ in door.told] == []  # refused where there is no room
    page.get_by_role("button", name="Copper Hollow to the left").click()
    until(lambda: door.told)
    (told,) = (words.split() for words, _ in door.told)
    assert (told[:2], told[3]) == (["draw", "copper-hollow"], "0")
    assert -1 <= int(told[2]) < 10


def test_a_mark_stands_at_the_place_of_what_is_wrong_and_leads_to_its_card(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    places = ["wrenfield-otterbeck", "otterbeck", "otterbeck-sandle@otterbeck"]
    door.show(lambda s: s["irregularities"].insert(0, dict(danger, places=places)))
    for size in SIZES:
        page = open_page(*size)
        marks = page.locator("[data-mark=section-clash-1]")
        assert marks.count() == 3
        assert [" ".join(text.split()).lower() for text in marks.all_inner_texts()] == ["danger section clash"] * 3
        page.locator("[data-place=wrenfield-otterbeck] [data-mark]").click()
        page.locator("[data-irregularity=section-clash-1]").wait_for()


def test_the_drawing_is_the_same_each_time_it_is_opened(open_page: Callable[..., Any], door: Any) -> None:
    door.show(lambda s: (s.clear(), s.update(grown(3))))
    seen = []
    for _ in range(2):
        page = open_page(1920, 1080)
        page.wait_for_selector("[data-station]")
        page.wait_for_function(STANDS_STILL, polling=1200)  # the page is drawn anew each second
        seen.append(page.evaluate("window.was"))
    assert seen[0] == seen[1]
