"""A service that is none, fed by hand, with the dashboard served before it; a real browser stands in front of it."""

from __future__ import annotations

import copy
import json
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import pytest

from bridge.dashboard import Answer, Commits, Fitness, Listening, Shown, create_app, listen

EXAMPLE = json.loads((Path(__file__).parent / "example.json").read_text(encoding="utf-8"))
DEADLINE_S = 10.0
PORT = [0]
"""At which port the dashboard is served to this process's tests, once the first has been: to a browser another port is
another place, of which it knows nothing."""
FIT = Fitness(
    loop_age_s=0.1,
    turns=7200,
    records=418,
    unkept=0,
    free_bytes=5_000_000_000,
    commits=Commits(((0.001, 3), (0.01, 400), (float("inf"), 2)), 4.5, 1.25),
    lines={"serial-ttyUSB0": 320, "mqtt": 98},
    rejects={("serial-ttyUSB0", "bad-sum"): 2},
    links={"serial-ttyUSB0": True, "mqtt": False},
)


class HandDoor:
    """A `Door` whose pictures are shown by the test and whose answers the test may choose."""

    def __init__(self) -> None:
        self.shown = Shown(1, copy.deepcopy(EXAMPLE["snapshot"]), tuple(EXAMPLE["outcomes"]))
        self.callbacks: list[Callable[[Shown], None]] = []
        self.told: list[tuple[str, str | None]] = []
        self.answers: dict[str, Answer] = {}
        self.fit = FIT
        self.fails: Exception | None = None
        self.silent = False
        self.changed = threading.Condition()

    def latest(self) -> Shown:
        if self.fails is not None:
            raise self.fails
        return self.shown

    def subscribe(self, callback: Callable[[Shown], None]) -> Callable[[], None]:
        self.callbacks.append(callback)
        return lambda: self.callbacks.remove(callback)

    def fitness(self) -> Fitness:
        if self.fails is not None:
            raise self.fails
        return self.fit

    def tell(self, words: str, who: str | None) -> Future[Answer]:
        if self.fails is not None:
            raise self.fails
        future: Future[Answer] = Future()
        if not self.silent:
            future.set_result(self.answers.get(words, Answer(True, f"{words}: noted.", 418)))
        with self.changed:
            self.told.append((words, who))
            self.changed.notify_all()
        return future

    def wait_told(self, words: str) -> str | None:
        """Who told these words, once they have come."""
        with self.changed:
            assert self.changed.wait_for(lambda: any(w == words for w, _ in self.told), DEADLINE_S), self.told
            return next(who for w, who in self.told if w == words)

    def show(self, change: Callable[[dict[str, Any]], None] | None = None, outcomes: tuple[Any, ...] | None = None) -> Shown:
        """The next picture: a copy of the last one, changed by hand, shown from a thread that is not the page's."""
        snapshot = copy.deepcopy(dict(self.shown.snapshot))
        if change is not None:
            change(snapshot)
        self.shown = Shown(self.shown.version + 1, snapshot, self.shown.outcomes if outcomes is None else outcomes)
        for callback in list(self.callbacks):
            callback(self.shown)
        return self.shown


@pytest.fixture
def door() -> HandDoor:
    return HandDoor()


@pytest.fixture
def served(door: HandDoor) -> Iterator[Listening]:
    """The dashboard of the hand-fed door, over real HTTP."""
    listening = listen(create_app(door), "127.0.0.1", PORT[0])
    PORT[0] = listening.port
    yield listening
    listening.stop()


@pytest.fixture
def until() -> Callable[..., None]:
    """`until(test)`: wait until it is true, or fail."""

    def wait(test: Callable[[], object], within_s: float = DEADLINE_S) -> None:
        deadline = time.monotonic() + within_s
        while not test():
            assert time.monotonic() < deadline, f"still not so after {within_s} s"
            time.sleep(0.01)

    return wait


class Pages:
    """Pages that tests have closed, to be opened again by another: what they have loaded need not be loaded twice. Nothing
    that a page keeps outlasts that."""

    def __init__(self, browser: Any) -> None:
        self._browser = browser
        self._spare: dict[str, list[Any]] = {}

    def take(self, width: int, height: int, origin: str, more: dict[str, Any]) -> Any:
        spare = self._spare.get(repr(sorted(more.items())))
        if not spare:
            page = self._browser.new_context(viewport={"width": width, "height": height}, **more).new_page()
            page.set_default_timeout(10_000)
            return page
        page = spare.pop()
        page.set_viewport_size({"width": width, "height": height})
        devtools = page.context.new_cdp_session(page)
        devtools.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "local_storage"})
        devtools.detach()
        return page

    def put_back(self, page: Any, more: dict[str, Any]) -> None:
        page.goto("about:blank")
        self._spare.setdefault(repr(sorted(more.items())), []).append(page)


@pytest.fixture(scope="module")
def pages(browser: Any) -> Pages:
    return Pages(browser)


@pytest.fixture
def open_page(pages: Pages, served: Listening) -> Iterator[Callable[..., Any]]:
    """`open_page(width, height, at)`: a page of the application, drawn; anything the browser complains of fails the test.
    `is_altered`: the test alters the page itself in a way that stays, so nobody else may have it."""
    opened_now: list[tuple[Any, dict[str, Any], bool]] = []
    complaints: list[str] = []

    def complain(error: Any) -> None:
        complaints.append(str(error))

    def opened(width: int = 1280, height: int = 800, at: str = "line", is_altered: bool = False, **more: Any) -> Any:
        page = pages.take(width, height, served.url.rstrip("/"), more)
        opened_now.append((page, more, is_altered))
        page.on("pageerror", complain)
        page.goto(f"{served.url}#{at}")
        page.wait_for_selector(".page", state="attached")
        return page

    yield opened
    for page, more, is_altered in opened_now:
        page.remove_listener("pageerror", complain)
        if is_altered:
            page.context.close()
        else:
            pages.put_back(page, more)
    assert complaints == []


@pytest.fixture
def danger() -> dict[str, Any]:
    """An open irregularity of level danger, as a snapshot has it."""
    return {
        "id": "section-clash-1",
        "kind": "section-clash",
        "level": "danger",
        "status": "open",
        "text": "P3 has entered Wrenfield–Otterbeck Junction while G12 is in it.",
        "do": "Stop both trains now.",
        "because": ["P3", "G12"],
        "cause": None,
        "explained": None,
        "acknowledged": False,
        "verdict": None,
        "evidence": [415, 416],
        "t": 1529.0,
        "clock": "19:42",
    }
