"""Two phones at one running session: each sees what the other told, the later word stands, undo takes back the right one."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.dashboard import Listening, create_app, listen
from bridge.folder import load
from bridge.service.core import CORE

from ..service.conftest import RAILWAY, Live

pytestmark = pytest.mark.wires


def until_shown(live: Live, test: Callable[[dict[str, Any]], object]) -> None:
    """Wait until the service has drawn a picture of which that is true."""
    news = threading.Event()
    leave = live.service.subscribe(lambda _: news.set())
    try:
        while not test(dict(live.service.latest().snapshot)):
            assert news.wait(10), live.service.latest().snapshot
            news.clear()
    finally:
        leave()


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    """A service with a session that has begun, on boards that say nothing."""
    service = Live(tmp_path / "oxlip.store", load(RAILWAY), CORE)
    service.tell("begin 19:00")
    until_shown(service, lambda snapshot: snapshot.get("stations"))
    yield service
    service.stop()


@pytest.fixture
def served(live: Live) -> Iterator[Listening]:
    listening = listen(create_app(live.service, hosts=("phone.example",)), "127.0.0.1", 0)
    yield listening
    listening.stop()


def name_it(page: Any, name: str) -> None:
    """Give a device a name, on the page where that is done."""
    page.locator("#who").fill(name)
    page.evaluate("location.hash = '#stock/w1'")
    page.wait_for_selector("[data-one=w1]")


def stands(page: Any, place: str) -> None:
    page.get_by_label("Place").select_option(place)
    page.get_by_role("button", name="It stands there").click()


def shown(page: Any, rows: list[str]) -> None:
    """Wait until this is what was told of the wagon: who, and whether it has been taken back."""
    told = """() => [...document.querySelectorAll('[data-told-of] li')].map((li) =>
      li.querySelector('.told-who').textContent.split(',')[0] + (li.classList.contains('is-undone') ? ' undone' : ''))"""
    page.wait_for_function(f"rows => JSON.stringify(({told})()) === JSON.stringify(rows)", arg=rows)


def test_two_phones_put_the_same_wagon_right(open_page: Callable[..., Any], live: Live) -> None:
    ann, bo = open_page(360, 740, at="begin"), open_page(360, 740, at="begin")
    name_it(ann, "Ann")
    name_it(bo, "Bo of the Quay")
    was = live.service.latest().snapshot["vehicles"]["w1"]["place"]
    first, second = [
        road["id"] for s in live.service.latest().snapshot["stations"] for road in s["roads"] if road["id"] != was
    ][:2]
    stands(ann, first)
    shown(bo, ["Ann"])
    stands(bo, second)
    for page, rows in ((ann, ["Bo of the Quay", "you"]), (bo, ["you", "Ann"])):
        shown(page, rows)
        name = page.locator(f"#place option[value='{second}']").inner_text()
        page.locator("[data-one] .where", has_text=name).wait_for()  # the later word stands
    bo.locator("[data-told-of] li").nth(1).get_by_role("button").click()  # the earlier one is taken back, by the other
    shown(ann, ["Bo of the Quay", "you undone"])
    assert "taken back by Bo of the Quay" in ann.locator("[data-told-of] li").nth(1).inner_text()
    assert live.service.latest().snapshot["vehicles"]["w1"]["place"] == second
    ann.locator("[data-told-of] li").nth(0).get_by_role("button").click()
    shown(bo, ["you undone", "Ann undone"])
    name = bo.locator(f"#place option[value='{was}']").inner_text()
    bo.locator("[data-one] .where", has_text=name).wait_for()  # as if neither had said anything


def test_a_device_without_a_name_is_called_by_what_it_is(open_page: Callable[..., Any], served: Listening) -> None:
    page = open_page(at="begin", is_altered=True)
    assert page.locator("#who").get_attribute("placeholder") == "this machine"
    other = page.context.new_page()
    other.goto(served.url.replace("127.0.0.1", "phone.example") + "#begin")  # tests/conftest.py has the browser find it here
    other.wait_for_selector("#who")
    called = other.locator("#who").get_attribute("placeholder")
    assert called.startswith("phone ")
    assert 2 <= int(called.removeprefix("phone ")) <= 99
    other.reload()
    other.wait_for_selector("#who")
    assert other.locator("#who").get_attribute("placeholder") == called


AT = """id => {
  const { x, y } = document.querySelector(`[data-station='${id}'] h3`).getBoundingClientRect();
  return [x, y + scrollY];
}"""


def order(page: Any, station: str) -> list[str]:
    return [road.get_attribute("data-place") for road in page.locator(f"[data-station={station}] .road[data-place]").all()]


def drawn(live: Live, rows: list[tuple[Any, ...]]) -> None:
    """Wait until these stations are not drawn by themselves."""
    until_shown(live, lambda snapshot: [tuple(row.values()) for row in snapshot["drawn"]] == rows)


def test_what_one_moves_on_the_line_the_other_sees_and_it_can_be_drawn_by_itself_again(
    open_page: Callable[..., Any], live: Live
) -> None:
    station = live.service.latest().snapshot["stations"][0]
    first, second = station["id"], [road["id"] for road in station["roads"]]
    one, other = open_page(1280, 800, at="line"), open_page(360, 740, at="line")
    stood = other.evaluate(AT, first)
    one.get_by_role("link", name="Move stations and roads").click()
    handle = one.locator(f"[data-handle={first}]")
    handle.focus()
    for _ in range(5):
        one.keyboard.press("ArrowDown")
    drawn(live, [(first, 0, 5, [])])
    other.wait_for_function(f"([id, was]) => Math.abs(({AT})(id)[1] - was - 40) < 2", arg=[first, stood[1]])
    box = handle.bounding_box()
    one.mouse.move(box["x"] + 9, box["y"] + 9)
    one.mouse.down()
    one.mouse.move(box["x"] + 9, box["y"] + 9 + 24, steps=4)
    one.mouse.up()
    drawn(live, [(first, 0, 8, [])])
    one.locator(f"[data-station={first}] [data-place='{second[1]}']").get_by_role("button", name="higher").click()
    drawn(live, [(first, 0, 8, [second[1], second[0], *second[2:]])])
    other.wait_for_function(
        "([id, road]) => document.querySelector(`[data-station='${id}'] .road`).dataset.place === road",
        arg=[first, second[1]],
    )
    assert order(other, first)[: len(second)] == order(one, first)[: len(second)]
    one.get_by_role("button", name="by itself again").click()
    drawn(live, [])
    other.wait_for_function(f"([id, was]) => Math.abs(({AT})(id)[1] - was) < 2", arg=[first, stood[1]])
    assert order(other, first)[: len(second)] == second
    one.get_by_role("link", name="Done").click()
    one.wait_for_selector("[data-handle]", state="detached")
