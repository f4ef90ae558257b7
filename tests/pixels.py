"""From an edge at a board to pixels in the page, in a real browser, beside the least that a stream to a browser can take.

    python3 tests/pixels.py                  (in the project's environment; under a minute)
    python3 tests/pixels.py --seconds 60 --a-second 50

The whole bridge is real (`numbertaker run`, its journal on the disk), and so are Mosquitto, the boards' lines on it and
Chromium. A report's time begins when its line is handed to the broker and ends with the frame of the browser
(requestAnimationFrame) behind the change of the page's document that shows it. The clocks of the browser and of this process
are related by round trips, before and after. The floor is a number in a bare stream of server-sent events, shown by a page
that does nothing else, in the same browser: half of it before, half behind.

To hold: 95 of 100 within 100 ms; `--within 0` only prints. Exit status 1 where it does not, or where reports are not shown.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from conftest import BROWSER
from playwright.sync_api import Page, sync_playwright
from trials.bare_stream import BareStream
from trials.wide_layout import WideLayout

NOTING = """
window.shown = [];
const now = () => performance.timeOrigin + performance.now();
const stood = new Map();
function look() {
  const fresh = [];
  const bare = document.getElementById("number");
  const places = bare ? [[bare, "number", bare.textContent]] : [...document.querySelectorAll("[data-place] .strip")].map(
    (strip) => [strip, strip.closest("[data-place]").dataset.place, strip.classList.contains("is-occupied") ? "on" : "off"]);
  for (const [, place, value] of places) {
    if (stood.get(place) === value) continue;
    stood.set(place, value);
    fresh.push([place, value]);
  }
  if (fresh.length) requestAnimationFrame(() => window.shown.push(...fresh.map((one) => [...one, now()])));
}
new MutationObserver(look).observe(document, { subtree: true, childList: true, characterData: true, attributes: true });
"""
ROUND_TRIPS = 20
LONGEST_MS = 1_000.0
"""An input goes on every 2 s: what is shown later than this may be the next time."""

Shown = Sequence[tuple[str, str, float]]


def main() -> int:
    """Print the figures of one run."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--seconds", type=float, default=20.0, help="how long the page is looked at")
    parser.add_argument("--a-second", type=float, default=50.0, help="reports, and events of the bare stream")
    parser.add_argument("--within", type=float, default=100.0, help="milliseconds for 95 of 100; 0: nothing is judged")
    arguments = parser.parse_args()
    programs = [shutil.which(name, path="/usr/sbin:/usr/bin:/usr/local/bin") for name in ("mosquitto", "chromium")]
    if None in programs:
        parser.error("this needs the programs mosquitto and chromium: sudo apt-get install mosquitto chromium")
    mosquitto, chromium = map(str, programs)
    with tempfile.TemporaryDirectory() as home, sync_playwright() as runner:
        browser = runner.chromium.launch(executable_path=chromium, args=BROWSER)
        floor = bare(browser, arguments.seconds / 4, arguments.a_second)
        layout = WideLayout(Path(home), mosquitto)
        try:
            delays, sent = page_delays(browser, layout, arguments.seconds, arguments.a_second)
        finally:
            layout.close()
        floor += bare(browser, arguments.seconds / 4, arguments.a_second)
        browser.close()
    told("a number in a bare stream", floor)
    told("an edge in the page", delays)
    ninety_five, least = (statistics.quantiles(those, n=20)[18] for those in (delays, floor))
    print(f"{ninety_five / least:.1f} times the floor at 95 of 100; {len(delays)} of {sent} edges shown within a second")
    wrong = []
    if arguments.within and ninety_five > arguments.within:
        wrong.append(f"95 of 100 within {ninety_five:.0f} ms instead of {arguments.within:.0f}")
    if arguments.within and len(delays) < sent:
        wrong.append(f"{sent - len(delays)} edges were not shown within a second")
    for line in wrong:
        print(f"WRONG: {line}")
    return int(bool(wrong))


def told(what: str, delays: Sequence[float]) -> None:
    """A line of figures."""
    cuts = statistics.quantiles(delays, n=20)
    worst = f"{cuts[18]:6.1f} ms   worst {max(delays):6.1f} ms"
    print(f"{what:<26} half within {statistics.median(delays):6.1f} ms   95 of 100 within {worst}   of {len(delays)}")


def bare(browser: Any, seconds: float, a_second: float) -> list[float]:
    """Milliseconds from the sending of a number until it is shown."""
    stream = BareStream(a_second)
    page = opened(browser, stream.url)
    _, shown = looked(page, seconds)
    sent = {str(n): t for n, t in stream.sent}
    stream.stop()
    page.context.close()
    return [(t - sent[value]) * 1e3 for _, value, t in shown if value in sent]


def page_delays(browser: Any, layout: WideLayout, seconds: float, a_second: float) -> tuple[list[float], int]:
    """Milliseconds from each edge to its pixels, and how many edges there were."""
    page = opened(browser, f"{layout.url}#line")
    page.wait_for_selector("[data-place] .strip")
    layout.boards.go(a_second)
    page.wait_for_timeout(2_500)  # until each loop has been on, so that all that is shown from here on is news
    began, shown = looked(page, seconds)
    page.wait_for_timeout(1_000)
    layout.boards.go(0)
    page.context.close()
    came: dict[str, list[float]] = defaultdict(list)
    for place, value, t in shown:
        if value == "on":
            came[place].append(t)
    until = began + seconds - LONGEST_MS / 1e3
    edges = [(f"{b}.road{n}", t) for b, n, value, t in layout.boards.sent if value == "on" and began <= t < until]
    delays = [min((at - t for at in came[place] if at >= t), default=float("inf")) * 1e3 for place, t in edges]
    return [delay for delay in delays if delay <= LONGEST_MS], len(edges)


def opened(browser: Any, url: str) -> Page:
    """A page in which what is shown is noted."""
    page: Page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    page.add_init_script(NOTING)
    page.goto(url, wait_until="commit")
    page.wait_for_function("() => window.shown.length > 0")
    return page


def looked(page: Page, seconds: float) -> tuple[float, Shown]:
    """From when on, and what came to be shown: place, value, and unix seconds of this process's clock."""
    before = ahead_ms(page)
    page.evaluate("() => { window.shown = []; }")
    began = time.time()
    page.wait_for_timeout(seconds * 1e3)
    found = page.evaluate("() => window.shown")
    after = ahead_ms(page)
    ahead = (before[0] + after[0]) / 2
    print(f"the browser's clock is {ahead:+.2f} ms from ours, known to {max(before[1], after[1]):.2f} ms")
    return began, [(place, value, (t - ahead) / 1e3) for place, value, t in found]


def ahead_ms(page: Page) -> tuple[float, float]:
    """By how much the browser's clock is ahead, and how exactly that is known: the shortest of some round trips."""
    best = (0.0, float("inf"))
    for _ in range(ROUND_TRIPS):
        began = time.time()
        there = page.evaluate("() => performance.timeOrigin + performance.now()")
        ended = time.time()
        half = (ended - began) * 1e3 / 2
        best = min(best, (there - (began + ended) / 2 * 1e3, half), key=lambda pair: pair[1])
    return best


if __name__ == "__main__":
    sys.exit(main())
