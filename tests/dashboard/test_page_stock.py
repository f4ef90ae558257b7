"""The page "Stock" in a real browser: a vehicle found, put right by eye, taken off, found on the Line, given a tag."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.dashboard import Answer

pytestmark = pytest.mark.wires


def word(n: int, words: str, vehicle: str | None = None, who: str | None = None, **more: Any) -> dict[str, Any]:
    """A row of what was told, as a snapshot has it."""
    row = {"n": n, "t": 1529.0, "clock": "19:42:09", "who": who, "words": words, "about": [vehicle] if vehicle else []}
    return {**row, "answer": f"{words}: noted.", "can_undo": True, "undone_by": None, "undone_who": None, **more}


def tells(door: Any, *rows: dict[str, Any]) -> None:
    """Let the account of what was told be these rows."""
    door.show(lambda s: s.update(told=list(rows)))


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
    tells(door, word(418, "stands w219 copper-hollow.loading 2", "w219"))
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
    tells(door, word(418, "tag 04FF77A0 w331", "w331"))
    page.get_by_role("button", name="Take back: tag 04FF77A0 w331").first.wait_for()
    close_answer(page)
    page.evaluate("location.hash = '#stock/w332'")
    page.locator("[data-learn='04FF77A0']").click()
    door.wait_told("tag 04FF77A0 w332")
    door.show(lambda s: (s["vehicles"]["w332"].update(tags=["04FF77A0"]), s.update(strange_tags=[])))
    page.locator(".its-tags code", has_text="04FF77A0").wait_for()
    assert page.locator("[data-learn]").count() == 0
    assert page.locator("nav a[href='#stock'] .count").count() == 0


def test_what_was_told_stands_there_with_who_told_it_and_can_be_taken_back(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="stock/w610")
    assert page.get_by_text("Nobody has told anything yet.").is_visible()
    door.answers["stands w610 off"] = Answer(False, "Not now.", None)
    page.get_by_role("button", name="Take off the layout").click()
    page.wait_for_selector("[data-answer=is-refused]")
    rows = [
        word(421, "mute wren-out", who="this-machine", can_undo=False, undone_by=422, undone_who="Bo"),
        word(420, "stands w610 otterbeck.loop", "w610", "this-machine"),
        word(419, "stands w610 sandle-quay.quay", "w610", "Ann-of-the-Quay"),
        word(1, "begin 19:00", can_undo=False),
    ]
    tells(door, *rows)
    of_it = page.locator("[data-told-of=w610] li")
    page.wait_for_function("() => document.querySelectorAll('[data-told-of] li').length === 2")
    assert [li.inner_text().split(",")[0] for li in of_it.all()] == ["you", "Ann of the Quay"]
    told = page.locator("#told [data-word]")
    assert told.count() == 4
    assert "taken back by Bo" in told.nth(0).inner_text()
    assert [row.get_by_role("button").count() for row in told.all()] == [0, 1, 1, 0]
    of_it.nth(1).get_by_role("button").click()
    door.wait_told("undo 419")


READER = "wren-out"


def push_past(door: Any, *tags: str, reader: str = READER) -> None:
    """A rake is pushed past a reader: its tags are read one after the other."""
    for tag in tags:
        t = door.shown.snapshot["session"]["t"] + 1.0
        read = {"tag": tag, "detector": reader, "t": t}
        door.show(lambda s, read=read, t=t: (s["session"].update(t=t), s["tags_read"].append(read)))


def learn(page: Any, n: int) -> list[str]:
    """The tags that are listed at one instant, once there are so many."""
    page.wait_for_function("n => document.querySelectorAll('[data-read]').length === n", arg=n)
    found: list[str] = page.locator("[data-read]").evaluate_all("rows => rows.map(row => row.dataset.read)")
    return found


@pytest.mark.parametrize("width", [360, 1280])
def test_a_whole_rake_is_learned_by_one_word(open_page: Callable[..., Any], door: Any, width: int) -> None:
    push_past(door, "04AAAA09")  # before anybody looked
    door.show(
        lambda s: s.update(strange_tags=[{"tag": tag, "detector": READER, "t": 1.0} for tag in ("04AAAA01", "04AAAA02")])
    )
    page = open_page(width, 740, at="stock")
    page.get_by_role("link", name="Learn a whole rake").click()
    page.get_by_text("No tag has been read since").wait_for()
    own = door.shown.snapshot["vehicles"]["w331"]["tags"][0]
    push_past(door, "04BBBB01", reader="otter-in")  # a train somewhere else
    push_past(door, "04AAAA01", own, "04AAAA01", "04AAAA02")
    assert learn(page, 3) == ["04AAAA01", own, "04AAAA02"]
    assert "33" in page.locator(f"[data-read='{own}'] b").inner_text()
    confirm = page.locator(".rake-part .is-first")
    assert confirm.is_disabled()
    page.get_by_label("Vehicle of tag 04AAAA01").select_option("w332")
    assert confirm.inner_text() == "Learn 1 of 2 tags"
    page.get_by_label("Vehicle of tag 04AAAA02").select_option("w332")
    assert page.get_by_text("stands here twice").count() == 2
    page.get_by_label("Vehicle of tag 04AAAA02").select_option("w219")
    assert page.get_by_text("stands here twice").count() == 0
    confirm.click()
    door.wait_told("tag 04AAAA01 w332 04AAAA02 w219")
    tells(door, word(418, "tag 04AAAA01 w332 04AAAA02 w219", "w332"))
    door.show(lambda s: [s["vehicles"][v]["tags"].append(tag) for v, tag in (("w332", "04AAAA01"), ("w219", "04AAAA02"))])
    page.get_by_text("Every tag that was read belongs to a vehicle.").wait_for()
    page.locator("[data-answer=is-taken]").get_by_role("button", name="Take back").click()
    door.wait_told("undo 418")


def test_a_rake_that_is_known_to_stand_there_is_learned_at_once_either_way_round(
    open_page: Callable[..., Any], door: Any
) -> None:
    line = next(r["line"] for r in door.shown.snapshot["stations"][1]["roads"] if r["id"] == "otterbeck.coal")
    page = open_page(360, 740, at="stock/a rake")
    tags = ["04AAAA01", "04AAAA02", "04AAAA03"]
    push_past(door, *tags[:2])
    learn(page, 2)
    road = page.get_by_label("These are the vehicles of").locator("option", has_text="Otterbeck Junction coal").first
    page.get_by_label("These are the vehicles of").select_option(road.get_attribute("value"))
    assert page.get_by_text("3 vehicles stand there, and 2 tags were read").is_visible()
    push_past(door, tags[2])
    learn(page, 3)
    page.get_by_role("button", name="Turn round").click()
    page.wait_for_function("tag => document.querySelector('[data-read]').dataset.read === tag", arg=tags[2])
    assert learn(page, 3) == tags[::-1]
    assert page.get_by_text("the last one read stands first").is_visible()
    page.get_by_role("button", name="They are so: learn 3 tags").click()
    told = " ".join(f"{tag} {vehicle}" for tag, vehicle in zip(tags[::-1], line, strict=True))
    door.wait_told(f"tag {told}")
    page.get_by_role("button", name="Begin anew").click()
    page.get_by_text("No tag has been read since").wait_for()
