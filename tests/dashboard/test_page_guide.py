"""The guide in a real browser: a folder made with the keyboard alone, what is wrong told at its place, one put right."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.folder import load

from .guided import Guide

pytestmark = pytest.mark.wires
RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"
MARKUP = '<img src=x onerror="window.hit=1">'
SMALLEST_PX = 48  # the smallest target of every page, web/tokens.css


@pytest.fixture
def guide(browser: Any) -> Iterator[Callable[[Path], Guide]]:
    opened: list[Guide] = []

    def open_at(folder: Path) -> Guide:
        opened.append(Guide(folder, browser))
        return opened[-1]

    yield open_at
    for one in opened:
        one.close()


def fits(page: Any) -> None:
    """Nothing stands beyond the side, what is pressed next is in sight, and every target is as large as a thumb."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = page.locator(".guide-bar .is-first").bounding_box()
    assert box["y"] + box["height"] <= 740
    targets = "button, input:not([type]), select, label.pick, summary"
    sizes = page.evaluate(
        "targets => [...document.querySelectorAll(targets)].map(e => [e.textContent, e.getBoundingClientRect().height])",
        targets,
    )
    assert [size for size in sizes if size[1] < SMALLEST_PX] == []


def test_with_the_keyboard_alone_from_nothing_to_a_folder(guide: Callable[[Path], Guide], tmp_path: Path) -> None:
    led = guide(tmp_path / "alder")
    page, keys = led.page, led.page.keyboard

    def step(name: str) -> None:
        page.wait_for_selector(f"[data-step={name}]")
        fits(page)

    step("railway")
    led.tab("name")
    keys.type("Alder Vale")
    keys.press("Enter")
    step("stations")
    page.wait_for_function("() => document.activeElement.id === 'f-stations.0.name'")
    keys.type("Alder")
    led.tab("stations.1.name")
    keys.type("Birch")
    keys.press("Enter")
    step("roads")
    led.tab("stations.0.roads.0.length")
    keys.type("140 cm")
    led.tab("Add a road")
    keys.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'f-stations.0.roads.1.name'")
    keys.type("Dock")
    led.tab("stations.0.roads.1.length")
    keys.type("520")
    fits(page)
    keys.press("Enter")
    page.get_by_role("heading", name="Which roads does Birch have?").wait_for()
    led.tab("stations.1.roads.0.length")
    keys.type("1200")
    keys.press("Enter")
    step("line")
    keys.type("5200")
    led.tab("sections.0.rule")
    keys.press("ArrowDown")
    led.tab("sections.0.goods")
    keys.type("6")
    fits(page)
    led.tab("Next")
    keys.press("Enter")
    step("vehicles")
    page.wait_for_function("() => document.activeElement.textContent === 'Add a vehicle'")
    keys.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'f-vehicles.0.painted'")
    keys.type("7")
    led.tab("vehicles.0.length")
    keys.type("145")
    led.tab("vehicles.0.at")
    keys.press("ArrowDown")
    led.tab("Next")
    keys.press("Enter")
    step("wired")
    assert "low voltage only" in page.locator(".caution").inner_text()
    page.wait_for_function("() => document.activeElement.name === 'readers'")
    keys.press("ArrowDown")
    led.tab("Next")
    keys.press("Enter")
    step("make")
    page.locator("[data-file='railway.toml'] summary").wait_for()
    for word in ("timetable.csv", "moves.csv", "numbertaker check"):
        assert page.get_by_text(word).first.is_visible(), word
    led.tab("Make the folder")
    keys.press("Enter")
    page.wait_for_selector("[data-opening]")
    (read,) = led.good
    assert read.railway is not None
    plant = read.railway.plant
    assert (plant.name, [road.length_mm for road in plant.roads.values()]) == ("Alder Vale", [1400.0, 520.0, 1200.0])
    assert [(str(section.rule), dict(section.minutes)) for section in plant.sections.values()] == [("token", {"goods": 6.0})]
    assert [(s.vehicle, s.place) for s in read.railway.standing] == [("7", "alder.platform")]
    assert len(plant.detectors) == 2
    assert not load(led.folder).railway.workings  # type: ignore[union-attr]


def test_what_is_wrong_is_told_at_its_field_and_what_was_typed_stays(guide: Callable[[Path], Guide], tmp_path: Path) -> None:
    led = guide(tmp_path / "alder")
    page = led.page
    page.locator(".guide-bar .is-first").click()
    page.locator("[id='f-name-wrong']").get_by_text("has no name yet").wait_for()
    assert (led.focused(), led.field("name").get_attribute("aria-invalid")) == ("f-name", "true")
    assert "has no name yet" in page.locator("#answers").inner_text()
    led.fill(name=f"{MARKUP} Vale")
    assert page.locator(".field-wrong").count() == 0
    led.next("stations")
    led.fill(stations__0__name=MARKUP, stations__1__name=MARKUP)
    page.locator(".guide-bar .is-first").click()
    page.get_by_text("two stations called").first.wait_for()
    assert led.focused() == "f-stations.1.name"
    led.fill(stations__1__name="Birch")
    page.reload()
    page.wait_for_selector("[data-step=railway]")
    assert led.field("name").input_value() == f"{MARKUP} Vale"
    assert MARKUP in page.locator(".drawing").inner_text()
    led.next("stations")
    assert led.field("stations.1.name").input_value() == "Birch"
    led.next("roads")
    assert page.locator(".field-wrong").count() == 0  # nobody has been asked yet
    assert MARKUP in page.locator("h1").inner_text()
    assert (page.locator("img").count(), page.evaluate("window.hit")) == (0, None)
    assert not led.folder.exists()


def test_a_station_more_and_one_less_leave_the_others_as_they_were(guide: Callable[[Path], Guide], tmp_path: Path) -> None:
    led = guide(tmp_path / "alder")
    led.name_stations("Alder", "Birch", "Cinder")
    led.page.get_by_role("button", name="Cinder one place further up").click()
    named = "names => names.every((name, n) => document.getElementById(`f-stations.${n}.name`).value === name)"
    led.page.wait_for_function(named, arg=["Alder", "Cinder", "Birch"])
    led.page.get_by_role("button", name="Take out Alder").click()
    led.page.wait_for_function("() => document.querySelectorAll('.group').length === 2")
    assert [led.field(f"stations.{n}.name").input_value() for n in range(2)] == ["Cinder", "Birch"]


def test_a_branch_leaves_from_where_it_is_said_to(guide: Callable[[Path], Guide], tmp_path: Path) -> None:
    led = guide(tmp_path / "alder")
    led.name_stations("Alder", "Birch", "Cinder")
    start = led.field("sections.1.start")
    assert start.locator("option:checked").inner_text() == "Birch, its down end"
    start.select_option(label="Alder, its down end")
    led.page.locator(".drawing", has_text="line from Alder").wait_for()
    for n, towards in enumerate((["towards Birch and Cinder"], ["towards Alder"], ["towards Alder"])):
        led.next("roads")
        heading = f"Which roads does {('Alder', 'Birch', 'Cinder')[n]} have?"
        led.page.get_by_role("heading", name=heading).wait_for()
        ends = led.page.locator(".is-ticks label.pick", has_text="towards").all_inner_texts()
        assert ["towards" + text.partition("towards")[2].rstrip() for text in ends] == towards
        led.fill(**{f"stations__{n}__roads__0__length": "1200"})
    led.next("line")
    assert led.page.locator(".group h2").all_inner_texts() == ["Alder to Birch", "Alder to Cinder"]


def test_a_folder_with_faults_is_shown_with_its_own_lines_until_it_is_right(
    guide: Callable[[Path], Guide], tmp_path: Path
) -> None:
    folder = tmp_path / "oxlip"
    shutil.copytree(RAILWAY, folder)
    (folder / "stock.csv").write_text(f"vehicle,kind,length\nw1,{MARKUP},104\n", encoding="utf-8")
    led = guide(folder)
    page = led.page
    card = page.locator("[data-finding=fault]", has_text="stock.csv, line 2").first
    card.wait_for()
    assert f"w1,{MARKUP},104" in card.locator(".is-meant").inner_text()
    assert "engine, wagon, brake, coach" in card.inner_text()
    fits(page)
    look = page.get_by_role("button", name="Look again")
    look.click()
    page.wait_for_function("() => document.getElementById('answers').textContent.startsWith('Looked again:')")
    assert led.good == []
    shutil.copy(RAILWAY / "stock.csv", folder)
    look.click()
    page.wait_for_selector("[data-opening]")
    assert len(led.good) == 1
    assert (page.locator("img").count(), page.evaluate("window.hit")) == (0, None)


def test_a_file_in_the_way_is_named_and_nothing_is_asked(guide: Callable[[Path], Guide], tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text("mine")
    led = guide(tmp_path)
    led.page.get_by_text("Something is in the way").wait_for()
    assert "stock.csv" in led.page.locator("main").inner_text()
    (tmp_path / "stock.csv").unlink()
    led.page.get_by_role("button", name="Look again").click()
    led.page.wait_for_selector("[data-step=railway]")


@pytest.mark.parametrize("look", ["light", "dark"])
def test_axe_finds_nothing_on_any_step(guide: Callable[[Path], Guide], tmp_path: Path, look: str) -> None:
    """axe-core with all its rules (WCAG 2 A and AA, and best practices), as axe-playwright-python brings it."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    led = guide(tmp_path / "alder")
    page = led.page
    page.emulate_media(color_scheme=look)

    def content() -> None:
        found = axe.run(page).response["violations"]
        assert [(one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found] == []

    page.locator(".guide-bar .is-first").click()
    page.wait_for_selector(".field-wrong")
    content()
    led.name_stations("Alder", "Birch")
    content()
    led.next("roads")
    led.fill(stations__0__roads__0__length="1400")
    content()
    page.locator(".guide-bar .is-first").click()
    page.get_by_role("heading", name="Which roads does Birch have?").wait_for()
    led.fill(stations__1__roads__0__length="1400")
    led.next("line")
    led.fill(sections__0__length="5200")
    content()
    led.next("vehicles")
    page.get_by_role("button", name="Add a vehicle").click()
    led.fill(vehicles__0__painted="7", vehicles__0__length="145")
    led.field("vehicles.0.at").select_option(label="Alder, Platform")
    content()
    led.next("wired")
    content()
    led.next("make")
    page.wait_for_selector("[data-file]")
    content()
