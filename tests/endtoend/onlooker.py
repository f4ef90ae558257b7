"""Somebody who looks at the page all evening and notes what stood on it, and when it first did.

Rule: what is noted stood in the page's document; the browser does the noting, so no picture is missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

NOTING = """
window.stood = {};
const TROUBLES = '[data-faulty], [data-fault], [data-frozen], [data-troubles]';
const note = (what) => { window.stood[what] ??= Date.now() / 1000; };
const look = () => {
  for (const item of document.querySelectorAll('[data-irregularity]')) note(`irregularity ${item.dataset.irregularity}`);
  for (const item of document.querySelectorAll('[data-danger]')) note(`danger ${item.dataset.danger}`);
  for (const trouble of document.querySelectorAll(TROUBLES)) note(`trouble ${trouble.textContent}`);
  for (const train of document.querySelectorAll('[data-train]')) {
    const name = train.dataset.train;
    note(`${name}: ${train.querySelector('.train-where').textContent}`);
    for (const move of train.querySelectorAll('.move')) {
      note(`${name}: ${[...move.children].map((child) => child.textContent).join(' ')}`);
    }
  }
};
new MutationObserver(look).observe(document, { subtree: true, childList: true, characterData: true, attributes: true });
"""


class Onlooker:
    """Pages of a browser: the guard's lists, and the line with what is wrong beside it (`page`, Playwright's), the last."""

    def __init__(
        self, browser: Any, url: str, width: int = 1280, height: int = 800, at: Sequence[str] = ("work/choose", "line/wrong")
    ) -> None:
        self._context = browser.new_context(viewport={"width": width, "height": height})
        self.complaints: list[str] = []
        self._pages = [self._context.new_page() for _ in at]
        self.page = self._pages[-1]
        for page, place in zip(self._pages, at, strict=True):
            page.set_default_timeout(60_000)
            page.on("pageerror", lambda error: self.complaints.append(str(error)))
            page.add_init_script(NOTING)
            page.goto(f"{url}#{place}")
            page.wait_for_selector(".page", state="attached")  # beside what is wrong a phone has no room for it

    def stood(self) -> dict[str, float]:
        """What stood on the page so far, and from when (unix seconds)."""
        found: dict[str, float] = {}
        for page in self._pages:
            for what, wall in page.evaluate("window.stood").items():
                found[what] = min(wall, found.get(what, wall))
        return found

    def until_clock(self, clock: str) -> None:
        """Until the session clock on the page shows this time (HH:MM:SS) or a later one."""
        shows = "clock => document.querySelector('[data-clock]').textContent >= clock"
        self.page.wait_for_function(shows, arg=clock)

    def close(self) -> None:
        self._context.close()
        assert self.complaints == []
