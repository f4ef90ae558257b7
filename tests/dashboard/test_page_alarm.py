"""What a page calls out, in a real browser: by sound and vibration, by voice; and what it shows where much is wrong at once.

Sound, vibration and voice are noted by stand-ins for the browser's own, which a test machine has no ears for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.wires

EARS = """
window.noted = { rings: 0, shakes: 0, said: [] };
class Audio {
  state = 'suspended'; currentTime = 0; destination = {};
  async resume() { this.state = 'running'; }
  createOscillator() {
    return { frequency: {}, connect() {}, start(at) { if (at === 0) window.noted.rings += 1; }, stop() {} };
  }
}
window.AudioContext = Audio;
Object.defineProperty(navigator, 'vibrate', { value: () => { window.noted.shakes += 1; return true; } });
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
Object.defineProperty(window, 'speechSynthesis', {
  value: { pending: false, speak: (u) => window.noted.said.push(u.text) },
});
"""


def listening(page: Any) -> Any:
    """The page anew, with ears."""
    page.add_init_script(EARS)
    page.reload()
    page.wait_for_selector(".page")
    return page


def noted(page: Any) -> tuple[int, int]:
    return tuple(page.evaluate("[window.noted.rings, window.noted.shakes]"))


def show_danger(page: Any, door: Any, danger: dict[str, Any], **keys: Any) -> None:
    """Another danger, until it stands on the page."""
    door.show(lambda s: s["irregularities"].insert(0, dict(danger, **keys)))
    page.wait_for_function("id => document.querySelector('[data-danger]')?.dataset.danger === id", arg=keys["id"])


def test_a_danger_rings_and_shakes_once_and_only_after_a_tap_that_allows_it(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    page = listening(open_page(360, 740, is_altered=True))
    show_danger(page, door, danger, id="i1")
    assert noted(page) == (0, 0)
    page.get_by_role("button", name="Sound off").click()
    page.get_by_role("button", name="Sound on").wait_for()
    show_danger(page, door, danger, id="i2")
    assert noted(page) == (1, 1)
    door.show(lambda s: s["irregularities"][0].update(text="P3 is still in it."))  # the same cause in other words
    page.get_by_text("P3 is still in it.").first.wait_for()
    assert noted(page) == (1, 1)
    page.reload()
    page.wait_for_selector("[data-danger=i2]")
    page.get_by_role("button", name="Tap for sound").wait_for()
    page.locator("main").click(position={"x": 5, "y": 5})
    page.get_by_role("button", name="Sound on").wait_for()
    assert noted(page) == (0, 0)  # it has rung for these before
    show_danger(page, door, danger, id="i3")
    assert noted(page) == (1, 1)
    door.show(lambda s: s["irregularities"].insert(0, dict(danger, id="i4", acknowledged=True)))
    door.show(lambda s: s["session"].update(clock="20:20:20", clock_running=False))
    page.locator("[data-clock]", has_text="20:20:20").wait_for()
    assert noted(page) == (1, 1)


def test_on_wish_it_says_what_is_wrong_and_what_is_confirmed(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    page = listening(open_page(at="begin", is_altered=True))
    lifted = {
        "says": "lifted",
        "vehicle": "w503",
        "road": "copper-hollow.loading",
        "train": "G31",
        "booked": True,
        "clock": "19:43",
    }
    other = {"says": "departed", "train": "P3", "station": "otterbeck", "road": "otterbeck.platform", "clock": "19:44"}
    page.get_by_role("button", name="Speak").click()
    page.wait_for_selector("[data-speech=on]")
    door.show(outcomes=(*door.shown.outcomes, {**lifted, "n": 9001}, {**other, "n": 9002}))
    page.wait_for_function("() => window.noted.said.length >= 3")
    assert page.evaluate("window.noted.said") == [
        "This device speaks.",
        "G31 lifted 503 from Copper Hollow loading",
        "P3 departed from Otterbeck Junction platform",
    ]
    page.evaluate("location.hash = '#work/G31'")  # from now on of this working alone
    page.wait_for_selector("[data-working=G31]")
    door.show(outcomes=(*door.shown.outcomes, {**lifted, "n": 9003}, {**other, "n": 9004}))
    page.wait_for_function("() => window.noted.said.length >= 4")
    show_danger(page, door, danger, id="i7")
    said = page.evaluate("window.noted.said.slice(3)")
    assert said == ["G31 lifted 503 from Copper Hollow loading", f"Danger. {danger['text']} {danger['do']}"]


def test_a_flood_shows_first_causes_and_counts_by_kind_and_each_at_one_tap(
    open_page: Callable[..., Any], door: Any, danger: dict[str, Any]
) -> None:
    kinds = ("reports-lost", "wagon-lost", "reader-weak", "reports-lost")
    many = [dict(danger, id=f"x{n}", level="note", kind=kinds[n % 4], t=2000.0 + 30 * n, text=f"{n}.") for n in range(12)]
    door.show(lambda s: s.update(irregularities=many[:10]))
    page = open_page(360, 740, at="line/wrong")
    page.locator("[data-irregularity=x9]").wait_for()
    assert page.locator("[data-flood]").count() == 0  # ten are no flood yet
    door.show(lambda s: s.update(irregularities=list(reversed(many))))
    flood = page.locator("[data-flood='12']")
    flood.wait_for()
    assert flood.locator(".flood-first b").all_inner_texts() == ["0.", "1.", "2."]
    counts = [" ".join(text.split()).lower() for text in flood.locator(".flood-kinds li").all_inner_texts()]
    assert counts == ["6 note reports lost", "3 note reader weak", "3 note wagon lost"]
    assert page.locator("[data-irregularity]").count() == 0
    page.get_by_role("button", name="Show each of them").click()
    page.locator("[data-irregularity=x11]").wait_for()
    assert page.locator("[data-irregularity]").count() == 12
    slow = [dict(item, t=2000.0 + 100 * n) for n, item in enumerate(many)]
    door.show(lambda s: s.update(irregularities=slow))  # as many, in twenty minutes
    page.reload()
    page.locator("[data-irregularity=x11]").wait_for()
