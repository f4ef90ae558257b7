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
    listening = listen(create_app(door), "127.0.0.1", 0)
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


@pytest.fixture
def open_page(browser: Any, served: Listening) -> Iterator[Callable[..., Any]]:
    """`open_page(width, height, at)`: a page of the application, drawn; anything the browser complains of fails the test."""
    contexts = []
    complaints: list[str] = []

    def opened(width: int = 1280, height: int = 800, at: str = "line", **more: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": height}, **more)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(f"{served.url}#{at}")
        page.wait_for_selector(".page", state="attached")
        return page

    yield opened
    for context in contexts:
        context.close()
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
