"""The page "Work" in a real browser: one call at a time, ticks that come by themselves, what a crew tells with a thumb."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.wires


def close_answer(page: Any) -> None:
    """Once what was told is taken: its answer out of the way."""
    page.locator("[data-answer=is-taken]").get_by_role("button", name="Close").click()
    page.wait_for_selector("[data-answer]", state="detached")


def states(page: Any, does: str) -> list[tuple[str, str]]:
    """Each row of what is to be done: vehicle and state, as they stand on the page."""
    rows = page.locator(f"[data-does={does}] [data-task]").all()
    return [(row.get_attribute("data-task"), row.get_attribute("data-state")) for row in rows]


def test_a_working_is_chosen_once_and_this_device_remembers_it_and_its_page(open_page: Callable[..., Any]) -> None:
    page = open_page(360, 740, at="work")
    choices = page.locator("[data-choice]")
    assert [choice.get_attribute("data-choice") for choice in choices.all()] == ["P3", "G31", "G12", "P5", "P1"]
    assert all(choice.bounding_box()["height"] >= 48 for choice in choices.all())
    page.locator("[data-choice=G31]").click()
    page.wait_for_selector("[data-working=G31]")
    page.locator("nav a[href='#stock']").click()
    page.locator("nav a[href='#work']").click()
    page.wait_for_selector("[data-working=G31]")
    page.goto(page.url.split("#")[0])
    page.wait_for_selector(".on-work [data-working=G31]")
    page.get_by_role("link", name="Change").click()
    page.wait_for_selector("[data-choice=P3]")


def test_the_call_stands_with_its_rows_in_the_order_in_which_a_crew_comes_to_them(open_page: Callable[..., Any]) -> None:
    page = open_page(360, 740, at="work/G31")
    assert page.locator("#call-name").inner_text() == "Copper Hollow loop"
    call = page.locator("[data-call]").inner_text()
    for words in (
        "Here now",
        "1 min early",
        "arr. 19:18, dep. 19:58",
        "Not yet: it is booked to leave at 19:58, about 16 min.",
    ):
        assert words in call
    assert states(page, "set-out") == [("w219", "look")]
    assert states(page, "lift") == [("w210", "failed"), ("w501", "done"), ("w503", "to-do")]
    assert "behind 501 (w501), 502 (w502)" in page.locator("[data-task=w503] .task-how").text_content()
    assert page.locator("[data-task=w501] .task-how").inner_text() == "probably lifted"
    assert page.locator("[data-next-call]").inner_text() == "Next: Otterbeck Junction loop, arr. 20:10, 1 to set out"
    assert page.locator("#rake h2").inner_text() == "The train as it stands"
    blocks = page.locator("#rake .block")
    widths = [block.bounding_box()["width"] for block in blocks.all()]
    assert widths[0] / widths[1] == pytest.approx(164 / 92, rel=0.03)  # the engine of 164 mm and a wagon of 92 mm
    assert [name.split()[0] for name in page.locator("#rake .caption-vehicle").all_inner_texts()] == [
        "31",
        "501",
        "502",
        "6",
    ]


def test_on_a_phone_call_answer_and_first_row_stand_above_the_fold(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    """Even while a danger is open, and with the links at the foot taken off."""
    door.show(lambda s: s["irregularities"].insert(0, dict(danger)))
    page = open_page(360, 740, at="work/G31")
    page.wait_for_selector("[data-danger]")
    foot = page.locator("nav.pages").bounding_box()["y"]
    for selector in ("#call-name", ".call .may-go", "[data-task=w219] .task-what"):
        box = page.locator(selector).bounding_box()
        assert box["y"] + box["height"] <= foot, selector


def test_a_tick_comes_by_itself_and_what_is_not_seen_takes_the_answer_of_who_has_looked(
    open_page: Callable[..., Any], door: Any
) -> None:
    page = open_page(360, 740, at="work/G31")
    row = page.locator("[data-task=w219]")
    row.get_by_role("button", name="It stands on loading").click()
    door.wait_told("stands w219 copper-hollow.loading")
    close_answer(page)
    row.get_by_role("button", name="It is with G31").click()
    door.wait_told("lifts G31 w219")
    close_answer(page)
    assert row.get_by_role("link", name="Elsewhere").get_attribute("href") == "#stock/w219"
    page.get_by_role("button", name="503 is lifted").click()
    door.wait_told("lifts G31 w503")

    def done(snapshot: dict[str, Any]) -> None:
        for task in snapshot["trains"][2]["calls"][1]["work"]:
            task.update(state="done", sure=0.99)

    door.show(done)
    page.wait_for_selector("[data-task=w219][data-state=done]")
    page.wait_for_selector("[data-task=w503][data-state=done]")
    assert page.locator(".task-look").count() == 0


def test_what_nothing_detects_is_told(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(360, 740, at="work/G31")
    page.get_by_role("button", name="It has departed").click()
    door.wait_told("depart G31")
    close_answer(page)
    page.evaluate("location.hash = '#work/G12'")
    page.get_by_role("button", name="It has come to Otterbeck Junction loop").click()
    door.wait_told("arrive G12 otterbeck.loop")
    close_answer(page)
    assert "Coming to" in page.locator(".call-when").inner_text()
    assert states(page, "set-out") == [("w407", "to-do")]
    page.get_by_role("button", name="407 is set out").click()
    door.wait_told("sets-out G12 w407 otterbeck.coal")


def test_each_answer_to_may_it_go_has_its_words_and_its_own_frame(open_page: Callable[..., Any], door: Any) -> None:
    page = open_page(at="work/P3")
    frames = set()
    for answer, words in (("yes", "May go"), ("wait", "Not yet"), ("look", "Look first")):
        door.show(
            lambda s, a=answer, w=words: s["trains"][0].update(
                may_go={
                    "section": "wrenfield-otterbeck",
                    "answer": a,
                    "why": f"{w}: so it is. The crew decides.",
                    "seconds": 0,
                }
            )
        )
        frame = page.locator(f".may-go.is-{answer}")
        frame.wait_for()
        assert frame.inner_text().endswith(f"{words}: so it is. The crew decides.")
        frames.add(frame.evaluate("e => { const c = getComputedStyle(e); return c.borderTopStyle + c.borderLeftWidth; }"))
    assert len(frames) == 3
