"""A whole service, with the real core and a real store, on a computer whose clocks, sleep and boards are turned by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from bridge.folder import FolderRead
from bridge.links.link import Arrival
from bridge.service.core import CORE
from bridge.service.inbox import Inbox, Item
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.service.sleep import Vigil
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, State
from bridge.wire.records import BoardUp, Opened, Received, Record, Said

from .conftest import HandLink

WRAP = 1 << 32


class Host:
    """A computer that can be put to sleep, and whose time of day can be set."""

    def __init__(self) -> None:
        self.elapsed_s = 900.0
        self.wall_s = 1_790_000_000.0
        self.asleep_s = 40.0  # it has slept before

    def clock(self) -> float:
        return self.elapsed_s + 100.0

    def vigil(self) -> Vigil:
        return Vigil(self.clock, lambda: self.elapsed_s, lambda: self.asleep_s)

    def go(self, seconds: float) -> None:
        self.elapsed_s += seconds
        self.wall_s += seconds

    def sleep(self, seconds: float) -> None:
        self.go(seconds)
        self.asleep_s += seconds


Step = Callable[[], list[Record]]


class ScriptedInbox(Inbox):
    """While the loop waits here the next step of a script is done: it lets time pass, and says what came."""

    def __init__(self, steps: Iterator[Step], over: Callable[[], None]) -> None:
        super().__init__()
        self._steps = steps
        self._over = over

    def gather(self, timeout_s: float) -> list[Item]:
        step = next(self._steps, None)
        if step is None:
            self._over()
            return []
        records = step()
        return [Arrival((record,)) for record in records]


class Evening:
    """A service from its start to its stop. `ppm`: how much too slow boards' clocks are, `started_ms` what they showed."""

    def __init__(
        self, store: Path, folder: FolderRead, host: Host | None = None, ppm: float = 0.0, started_ms: int = 900_000
    ) -> None:
        self.host = host or Host()
        self.ppm = ppm
        self.started_ms = started_ms
        self.store = store
        self.seq: dict[str, int] = {}
        self.said: list[dict[str, Any]] = []
        self.shown: list[dict[str, Any]] = []
        self.link = HandLink()
        self.log: list[str] = []
        self.steps: list[Step] = []
        resumed = take_up(
            store,
            folder,
            CORE,
            folder_again=lambda: folder,
            monotonic=lambda: self.host.elapsed_s,
            wall=lambda: self.host.wall_s,
        )
        self.clock = resumed.clock
        vigil = Vigil(resumed.clock, lambda: self.host.elapsed_s, lambda: self.host.asleep_s)
        resumed = replace(resumed, vigil=vigil)
        self.service = Service(resumed, [self.link], CORE, [lambda row: self.said.append(dict(row))], self.log.append)
        assert folder.railway is not None
        self.plant = folder.railway.plant

    def then(self, seconds: float, *lines: BoardLine | str, asleep_s: float = 0.0) -> None:
        """So long after, with a sleep in it, these lines and words come; a board's with the milliseconds of that moment."""

        def step() -> list[Record]:
            self.host.sleep(asleep_s)
            self.host.go(seconds)
            t = self.clock()
            return [Said(t, None, row) if isinstance(row, str) else self.received(t, row) for row in lines]

        self.steps.append(step)

    def set(self, wall_s: float) -> None:
        """The time of day is set."""
        self.steps.append(lambda: setattr(self.host, "wall_s", wall_s) or [])

    def look(self) -> None:
        """Keep the picture of this moment."""
        self.steps.append(lambda: self.shown.append(dict(self.service._desk.view())) or [])

    def received(self, t: float, line: BoardLine) -> Received:
        return Received(t, self.wire(line.board), line if isinstance(line, Edge) else replace(line, ms=self.ms()))

    def wire(self, board: str) -> str:
        return "mqtt" if self.plant.boards[board].link == "mqtt" else f"serial-{board}"

    def opened(self) -> None:
        def step() -> list[Record]:
            t = self.clock()
            ports = [Opened(t, self.wire(board)) for board in self.plant.boards]
            return [*ports, *(BoardUp(t, "mqtt", board) for board, row in self.plant.boards.items() if row.link == "mqtt")]

        self.steps.append(step)

    def hello(self) -> list[BoardLine]:
        return [Hello(board, 5, self.ms(), 16) for board in self.plant.boards]

    def alive(self) -> list[BoardLine]:
        return [Alive(board, 5, self.seq.get(board, 0), self.ms()) for board in self.plant.boards]

    def states(self) -> list[BoardLine]:
        """Every input as it stands: two roads occupied, all else clear."""
        lines: list[BoardLine] = []
        for detector in self.plant.detectors.values():
            seq = self.seq[detector.board] = self.seq.get(detector.board, 0) + 1
            value = "on" if detector.id in ("thistle-platform", "marrow-mill") else "off"
            lines.append(State(detector.board, 5, seq, self.ms(), detector.input, value))
        return lines

    def ms(self) -> int:
        return int(self.started_ms + (self.host.elapsed_s - 900.0) * 1000 * (1 - self.ppm * 1e-6)) % WRAP

    def run(self) -> None:
        self.service.inbox = ScriptedInbox(iter(self.steps), self.service.stop)
        self.service.run()
