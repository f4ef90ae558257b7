"""The page "Stock" in a real browser: a vehicle found, put right by eye, taken off, found on the Line, given a tag."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.dashboard import Answer

pytestmark = pytest.mark.wires


def close_answer(page: Any) -> None:
    """Once what was told is taken: its answer out of the way."""
    page.locator("[data-answer=is-taken]").get_by_role("button", name="Close").click()
    page.wait_for_selector("[data-answer]", state="detached")


def rows(page: Any) -> list[str]:
    return [row.get_attribute("data-vehicle") for row in page.locator("[data-vehicle]").all()]


@pytest.mark.parametrize("width", [360, 1280])
def test_a_vehicle_is_found_by_number_name_id_or_tag(open_page: Callable[..., Any], width: int) -> None:
    page = open_page(width, 740, at="stock")
    assert rows(page)[0] == "w219"  # what asks for a look stands first
    for sought, found in (("219", ["w219"]), ("W33", ["w331", "w332"]), ("04b11407", ["w407"]), ("nothing", [])):
        page.get_by_label("Number, name or id").fill(sought)
        page.wait_for_function("n => document.querySelectorAll('[data-vehicle]').length === n", arg=len(found))
        assert rows(page) == found
    assert page.get_by_text("None fits.").is_visible()


WHY = {
    "w219": ("Not certain, please look:", "it follows from what was not seen elsewhere."),
    "w407": ("Probably:", "it follows from the order in which they stood."),
    "w340": ("Certain:", "somebody has looked and told it."),
    "e12": ("Certain:", "a reader or a detector has seen it there."),
    "w341": ("Probably:", "it is assumed; nothing has told of it."),
    "b5": ("Certain:", "it was carried there with its train."),
}


def test_each_vehicle_says_where_it_is_how_sure_and_why(open_page: Callable[..., Any]) -> None:
    page = open_page(at="stock")
    for vehicle, (sure, why) in WHY.items():
        page.evaluate("id => { location.hash = `stock/${id}`; }", vehicle)
        card = page.locator(f"[data-one={vehicle}]")
        card.wait_for()
        assert card.locator("[data-why]").inner_text() == f"{sure} {why}"
    assert "Wrenfield–Otterbeck Junction" in card.inner_text()
    assert "brake van, 104 mm" in card.inner_text()


def test_it_is_put_right_by_eye_from_the_list_or_on_the_line_and_taken_back(
    open_page: Callable[..., Any], door: Any
) -> None:
    page = open_page(360, 740, at="stock/w219")
    door.show(lambda s: s["vehicles"]["w219"].update(place="otterbeck.platform"))  # until then it follows
    page.wait_for_function("() => document.getElementById('place').value === 'otterbeck.platform'")
    page.get_by_label("Place").select_option("copper-hollow.loading")
    page.get_by_label("Number from the up end").fill("2")
    door.show(lambda s: s["vehicles"]["w219"].update(place="otterbeck.loop", order=1))  # what is chosen stays chosen
    page.locator("[data-one] .where", has_text="Otterbeck Junction loop").wait_for()
    page.get_by_role("button", name="It stands there").click()
    door.wait_told("stands w219 copper-hollow.loading 2")
    page.locator("[data-answer=is-taken]").get_by_role("button", name="Take back").click()
    door.wait_told("undo 418")
    page.get_by_role("link", name="Choose on the Line").click()
    page.get_by_role("button", name="Here: Sandle Quay quay").click()
    page.wait_for_selector("[data-one=w219]")
    assert page.get_by_label("Place").input_value() == "sandle-quay.quay"
    page.get_by_role("button", name="It stands there").click()
    door.wait_told("stands w219 sandle-quay.quay")


def test_it_is_taken_off_and_put_on_again(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="stock/w610")
    page.get_by_role("button", name="Take off the layout").click()
    door.wait_told("stands w610 off")
    door.show(lambda s: s["vehicles"]["w610"].update(place="off", order=None))
    page.get_by_role("heading", name="Put on the layout").wait_for()
    assert page.get_by_role("button", name="Take off the layout").count() == 0
    page.get_by_role("button", name="It stands there now").click()
    assert page.evaluate("document.getElementById('place').validity.valueMissing")
    assert [words for words, _ in door.told] == ["stands w610 off"]  # a place is to be chosen first
    page.evaluate("location.hash = '#stock/w610/sandle-quay.loop'")
    page.get_by_role("button", name="It stands there now").click()
    door.wait_told("stands w610 sandle-quay.loop")


def test_it_is_shown_on_the_line(open_page: Callable[..., Any]) -> None:
    page = open_page(360, 740, at="stock/w503")
    page.get_by_role("link", name="Show on the Line").click()
    block = page.locator("#drawing .block.is-found")
    block.wait_for()
    page.wait_for_function(
        "() => { const { y } = document.querySelector('.is-found').getBoundingClientRect(); return y > 100 && y < 640; }"
    )
    assert page.locator(".is-found-name").inner_text().startswith("503")
    assert "503 (w503) is at Copper Hollow loading" in page.locator("[data-asked=find]").inner_text()


def test_a_strange_tag_is_given_to_its_vehicle_from_either_side(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(360, 740, at="stock")
    assert "1" in page.locator("nav a[href='#stock'] .count").inner_text()
    strange = page.locator("[data-tag='04FF77A0']")
    assert "read at Wrenfield–Otterbeck Junction at Wrenfield" in strange.inner_text()
    strange.get_by_role("button", name="Whose is tag 04FF77A0?").click()
    page.get_by_label("Number, name or id").fill("331")
    page.locator("button[data-vehicle=w331]").click()
    door.wait_told("tag 04FF77A0 w331")
    page.get_by_role("button", name="Take back: tag 04FF77A0 w331").first.wait_for()
    close_answer(page)
    page.evaluate("location.hash = '#stock/w332'")
    page.locator("[data-learn='04FF77A0']").click()
    door.wait_told("tag 04FF77A0 w332")
    door.show(lambda s: (s["vehicles"]["w332"].update(tags=["04FF77A0"]), s.update(strange_tags=[])))
    page.locator(".its-tags code", has_text="04FF77A0").wait_for()
    assert page.locator("[data-learn]").count() == 0
    assert page.locator("nav a[href='#stock'] .count").count() == 0


def test_what_was_told_stays_to_be_taken_back_and_what_was_refused_does_not(
    open_page: Callable[..., Any], door: Any
) -> None:
    page = open_page(at="stock/w610")
    door.answers["stands w610 off"] = Answer(False, "Not now.", None)
    page.get_by_role("button", name="Take off the layout").click()
    page.wait_for_selector("[data-answer=is-refused]")
    assert page.get_by_text("Nothing that could be taken back.").is_visible()
    page.get_by_role("button", name="It stands there").click()
    told = page.locator("[data-told] li")
    told.wait_for()
    close_answer(page)
    told.get_by_role("button").click()
    door.wait_told("undo 418")
    told.wait_for(state="detached")
