"""Somebody with a list of stations and roads, an empty folder and two boards: the guide leads to a running session."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.wire.encode import encode
from bridge.wire.lines import BoardLine, Hello, Report, State

from .commands import COMMAND

pytestmark = pytest.mark.wires
TAG = "04A1003B68"
LONGEST_S = 20.0
SIZES = [(360, 740), (1280, 800), (1920, 1080)]
PAGES = {"line": "Birch Halt", "work": "Which working is yours?", "stock": "Alder", "begin": "Boards"}
"""What each page shows of a session with one engine and no train booked."""


class Cable:
    """Boards at the end of a pseudo-terminal."""

    def __init__(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.path = os.ttyname(slave)

    def say(self, *lines: BoardLine) -> None:
        os.write(self._master, b"".join(encode(line) for line in lines))


@pytest.fixture
def cables() -> tuple[Cable, Cable]:
    return Cable(), Cable()


@pytest.fixture
def address(tmp_path: Path, cables: tuple[Cable, Cable]) -> Iterator[str]:
    """`numbertaker run` on a folder that is not there, as somebody at a terminal has it; the page's address."""
    ports = [word for cable in cables for word in ("--port", cable.path)]
    words = ["run", str(tmp_path / "alder"), "--guide", "--no-serial", "--listen", "127.0.0.1:0", *ports]
    child = subprocess.Popen([*COMMAND, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert child.stdout is not None
        found = next(found for line in child.stdout if (found := re.search(r"The page: (http://\S+)", line)))
        yield found[1]
        child.send_signal(signal.SIGTERM)
        _, said = child.communicate(timeout=LONGEST_S)
        assert (child.returncode, "Traceback" in said) == (0, False), said
    finally:
        child.kill()
        child.communicate()


def answer(page: Any, fields: dict[str, str], then: str) -> None:
    """Fill in the fields of a step, and go on to the question `then`."""
    for field, text in fields.items():
        page.locator(f'[id="f-{field}"]').fill(text)
    page.locator(".guide-bar .is-first").click()
    page.get_by_role("heading", name=then).wait_for()


def test_from_an_empty_folder_to_a_running_session(
    browser: Any, address: str, cables: tuple[Cable, Cable], tmp_path: Path
) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, reduced_motion="reduce")
    page = context.new_page()
    page.set_default_timeout(LONGEST_S * 1000)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(address)
    answer(page, {"name": "Alder Vale"}, "Which stations does the line pass?")
    answer(page, {"stations.0.name": "Alder", "stations.1.name": "Birch Halt"}, "Which roads does Alder have?")
    answer(page, {"stations.0.roads.0.length": "1400"}, "Which roads does Birch Halt have?")
    answer(page, {"stations.1.roads.0.length": "1.2 m"}, "How long is the line between the stations?")
    answer(page, {"sections.0.length": "5200"}, "Which engines and wagons are there?")
    page.get_by_role("button", name="Add a vehicle").click()
    page.locator('[id="f-vehicles.0.at"]').select_option(label="Alder, Platform")
    engine = {"vehicles.0.painted": "7", "vehicles.0.length": "145", "vehicles.0.tags": TAG}
    answer(page, engine, "What can Numbertaker hear?")
    page.get_by_label("Where the line enters and leaves each station").check()
    answer(page, {}, "Is it all as it should be?")
    page.get_by_role("button", name="Make the folder").click()

    page.locator("#boards").wait_for()  # the session's own page, without a touch
    assert sorted(path.name for path in (tmp_path / "alder").glob("*.csv")) == [
        "moves.csv", "stock.csv", "timetable.csv", "whereabouts.csv",
    ]  # fmt: skip
    page.locator("#folder").get_by_text("No train is booked yet").wait_for()  # what to do next, by the name of its file
    for cable, board in zip(cables, ("alder", "birch-halt"), strict=True):
        cable.say(Hello(board, 1, 100, 8), State(board, 1, 1, 110, 1, "off"))
    page.get_by_text("All 2 boards are heard").wait_for()
    page.get_by_role("button", name="Begin", exact=True).click()
    page.locator(".answer").get_by_text("The session has begun at 19:00:00.").wait_for()
    cables[0].say(Report("alder", 1, 2, 2000, 1, f"tag={TAG}"))
    shown = page.wait_for_function(
        "async () => { const { snapshot } = await (await fetch('api/snapshot')).json();"
        " const { place, by } = snapshot.vehicles['7']; return place !== 'alder.platform' && [place, by]; }"
    ).json_value()
    assert shown[0] in ("alder-birch-halt", "alder.down")
    assert shown[1] == "seen"
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        for at, shows in PAGES.items():
            page.evaluate("at => { location.hash = at; }", at)
            page.locator(f"main.on-{at}").get_by_text(shows).first.wait_for()
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (at, width)
    assert complaints == []
    context.close()
