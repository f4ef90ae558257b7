"""A railway of five stations whose fifty loops report in turn, evenly, and `numbertaker run` on it: what pages are timed on.

Rule: every report is one that a page has to show (a loop becomes occupied, or clear 50 ms after its input went off), none of
them changes so often that it would count as noisy, and when each line was handed to the broker is known.
"""

from __future__ import annotations

import json
import threading
import time
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.request import urlopen

from bridge.wire.lines import BoardLine, Report

from .mortal_broker import MortalBroker, free_port
from .ring_boards import RingBoards
from .three_stations import BOARD, DETECTOR, HOST, PLANT, RAILWAY, ROAD, SECTION, STATION, Bridge, ours

NAMES = ("alder", "birch", "cedar", "damson", "elm")
LOOPS = tuple(range(1, 11))
LOOPS_IN_TURN = tuple(loop for pair in zip(LOOPS[:5], LOOPS[5:], strict=True) for loop in pair)
ORDER = tuple((name, loop) for loop in LOOPS_IN_TURN for name in NAMES)
"""In which they report: of a board one goes on, the next off, for many that go clear at once look like a short circuit."""

SIDING = """
[[station.road]]
id = "yard"
kind = "siding"
length = 2000
open = ["up", "down"]
"""
CLEAR_AFTER = "clear_after = 50\n"
WAGONS = 12
"""In each yard, which nothing watches: they are there so that a picture is as large as on a club's railway."""


def make_folder(folder: Path, port: int) -> None:
    """The railway folder; its broker listens at `port`."""
    folder.mkdir()
    parts = [PLANT.format(host=HOST, port=port)]
    stock, stands = ["vehicle,kind,class,painted,length,tags"], ["vehicle,road,order"]
    for name in NAMES:
        parts += [STATION.format(id=name), *(ROAD.format(n=n) for n in LOOPS), SIDING, BOARD.format(id=name)]
        parts += [DETECTOR.format(id=name, n=n) + CLEAR_AFTER for n in LOOPS]
        for n in range(1, WAGONS + 1):
            stock.append(f"{name[0]}{n},wagon,open,{name[0].upper()} {n},100,04{ord(name[0]):02X}{n:06X}")
            stands.append(f"{name[0]}{n},{name}.yard,{n}")
    parts += [SECTION.format(up=up, down=down) for up, down in pairwise(NAMES)]
    texts = {"railway.toml": "".join(parts), "stock.csv": "\n".join(stock), "whereabouts.csv": "\n".join(stands)}
    for file, text in texts.items():
        (folder / file).write_text(f"{text}\n", encoding="utf-8")


class EvenBoards(RingBoards):
    """Boards of which one reports at a time. `sent`: board, input, value and unix seconds of each report, in order."""

    CATCHES_UP = 1.0

    def __init__(self, port: int, login: tuple[str, str]) -> None:
        self.sent: list[tuple[str, int, str, float]] = []
        super().__init__(RAILWAY, port, dict.fromkeys(NAMES, LOOPS), login)

    def _say(self, name: str, *lines: BoardLine) -> None:
        for line in lines:
            if isinstance(line, Report):
                self.sent.append((name, line.input, line.value, time.time()))
        super()._say(name, *lines)

    def _report(self, t: float) -> None:
        """By one board in each turn."""
        turns, at = divmod(self._turn - 1, len(ORDER))
        name, number = ORDER[at]
        board = self.boards[name]
        board.levels[number] = "on" if (number in LOOPS[:5]) == (turns % 2 == 0) else "off"
        self._say(name, board.report(t, number, board.levels[number]))


class WideLayout:
    """Broker, bridge and boards in a folder of their own, a session begun. `pid` is the bridge's process."""

    def __init__(self, home: Path, mosquitto: str) -> None:
        port = free_port()
        folder = home / "railway"
        make_folder(folder, port)
        login, settings = ours(folder, port)
        self.folder, self.port = folder, port
        self._broker = MortalBroker(mosquitto, settings, port)
        self._bridge = Bridge(folder, home / "evening.store")
        self._broker.start()
        try:
            self._bridge.start()
            self.boards = EvenBoards(port, login)
            self._until_heard()
            self._bridge.tell("begin 19:00")
        except BaseException:
            self.close()
            raise

    @property
    def url(self) -> str:
        """Where the page is."""
        return self._bridge.url

    @property
    def pid(self) -> int:
        """The bridge's process."""
        assert self._bridge._process is not None
        return self._bridge._process.pid

    def snapshot(self) -> dict[str, Any]:
        """The newest."""
        with urlopen(f"{self.url}api/snapshot", timeout=10) as answer:
            found: dict[str, Any] = json.load(answer)["snapshot"]
        return found

    def figure(self, name: str) -> float:
        """A figure of `/metrics` that has no labels."""
        with urlopen(f"{self.url}metrics", timeout=10) as answer:
            rows = dict(line.split(" ") for line in answer.read().decode().splitlines() if line.startswith(f"{name} "))
        return float(rows[name])

    def close(self) -> None:
        """Nothing is left running."""
        if hasattr(self, "boards"):
            self.boards.stop()
        self._bridge.end()
        self._broker.kill()

    def _until_heard(self) -> None:
        until = time.monotonic() + 20.0
        while any(board["state"] != "heard" for board in self.snapshot()["boards"]):
            if time.monotonic() > until:
                raise TimeoutError("the boards are not heard")
            threading.Event().wait(0.05)
