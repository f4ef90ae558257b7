"""Boards that live on a pseudo-terminal, and the host that asks them: the whole way of a line, without a service.

Rule: nothing here is judged; tests compare what a board has said with what has come.
"""

from __future__ import annotations

import gc
import queue
import threading
import time
from contextlib import suppress
from pathlib import Path

from bridge.links.health import Health
from bridge.links.link import Arrival
from bridge.links.serial import SerialLink
from bridge.links.serial_port import Patience
from bridge.virtual.board import Board
from bridge.wire.lines import Again, Ask, BoardLine, HostLine, Report, Watch
from bridge.wire.parser import Parser
from bridge.wire.records import Received, Rejected

from .conftest import Inbox, PtyBoard

ALIVE_S = 0.1
QUIET_S = 0.4
BRISK = Patience(
    scan_s=0.02,
    first_retry_s=0.01,
    longest_retry_s=0.05,
    foreign_after_s=5.0,
    quiet_s=QUIET_S,
    settle_s=0.2,
    proof_s=0.05,
)
"""For boards that say `alive` every 0.1 s: quiet is four times that, where in earnest it is a little more than twice."""


def handles_open() -> int:
    gc.collect()  # so that what other tests have left is not counted
    return len(list(Path("/proc/self/fd").iterdir()))


def lines_of(inbox: Inbox, link: str | None = None) -> list[BoardLine]:
    return [record.line for record in inbox.of(Received) if link in (None, record.link)]


def reasons_of(inbox: Inbox) -> list[str]:
    return [record.reason for record in inbox.of(Rejected)]


class LiveBoard:
    """A board's program on a thread: it answers, says `alive`, and can be moved to another wire. `asked`: by the host."""

    def __init__(self, name: str, boot: int = 17, inputs: int = 4, alive_s: float = ALIVE_S) -> None:
        self.board = Board(name, tuple(range(1, inputs + 1)), boot, 1000, 0.0)
        self.asked: list[HostLine] = []
        self.reports: list[Report] = []
        self._alive_s = alive_s
        self._wire: PtyBoard | None = None
        self._began = time.monotonic()
        self._lock = threading.RLock()
        self._parser = Parser()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._live, name=f"board {name}", daemon=True)
        self._thread.start()

    def on(self, wire: PtyBoard | None) -> None:
        """Speak on this wire from now on, or on none."""
        with self._lock:
            if wire is not None:
                wire.heard()  # what was said to whoever was there before
            self._wire, self._parser = wire, Parser()

    def start(self, wire: PtyBoard) -> None:
        """Be switched on there."""
        with self._lock:
            self.on(wire)
            self._say(self.board.start(self._t(), "power"))

    def restart(self) -> None:
        """A new boot: hello, as after a reset."""
        with self._lock:
            self.board.restart(self._t())
            self._say([self.board.hello(self._t(), "external")])

    def report(self, number: int, value: str) -> None:
        with self._lock:
            line = self.board.report(self._t(), number, value)
            self.board.levels[number] = value
            self.reports.append(line)
            self._say([line])

    def stop(self) -> None:
        self._stopping.set()
        self._thread.join()

    def _t(self) -> float:
        return time.monotonic() - self._began

    def _say(self, lines: list[BoardLine]) -> None:
        with suppress(OSError, AssertionError):  # nobody reads, or the wire is out: it is lost, as on a real one
            if self._wire is not None:
                self._wire.say(*lines)

    def _live(self) -> None:
        alive_at = time.monotonic() + self._alive_s
        while not self._stopping.wait(0.01):
            with self._lock:
                heard = b""
                with suppress(AssertionError):  # unplugged
                    heard = self._wire.heard() if self._wire is not None else b""
                for line in self._parser.feed(heard):
                    if isinstance(line, Ask | Again | Watch):
                        self.asked.append(line)
                        self._say(self.board.answer(self._t(), line))
                if time.monotonic() >= alive_at:
                    alive_at = time.monotonic() + self._alive_s
                    if self.board.awake:
                        self._say([self.board.alive(self._t())])


class Host(Inbox):
    """An inbox behind which boards are asked for what is missing, on a thread of its own, as the service does it."""

    def __init__(self) -> None:
        super().__init__()
        self.health = Health()
        self._waiting: queue.Queue[Arrival | None] = queue.Queue()
        self._thread = threading.Thread(target=self._serve, name="host", daemon=True)
        self._link: SerialLink | None = None

    def __call__(self, arrival: Arrival) -> None:
        super().__call__(arrival)
        self._waiting.put(arrival)

    def serve(self, link: SerialLink) -> None:
        self._link = link
        self._thread.start()

    def stop(self) -> None:
        self._waiting.put(None)
        self._thread.join()

    def came_of(self, board: LiveBoard) -> list[Report]:
        """Every report that has come under this board's name, in the order of its number, each once."""
        name, boot = board.board.name, board.board.boot
        lines = {line for line in lines_of(self) if isinstance(line, Report) and (line.board, line.boot) == (name, boot)}
        return sorted(lines, key=lambda line: line.seq)

    def _serve(self) -> None:
        while True:
            due = self.health.due()
            try:
                arrival = self._waiting.get(timeout=0.5 if due is None else min(0.5, max(0.0, due - time.monotonic())))
            except queue.Empty:
                self._send(self.health.wake(time.monotonic()))
                continue
            if arrival is None:
                return
            for record in arrival.records:
                self._send(self.health.take(record))

    def _send(self, orders: list[tuple[str, HostLine]]) -> None:
        assert self._link is not None
        for board, line in orders:
            self._link.send(board, line)


def begin(host: Host, live: LiveBoard, port: PtyBoard) -> None:
    """Switch a board on and wait until it is heard: what it says before is no loss to anybody."""
    live.start(port)
    host.wait(lambda: any((line.board, line.boot) == (live.board.name, live.board.boot) for line in lines_of(host)))


def missing_of(host: Host, board: str) -> set[int]:
    """The numbers that are known to be lost."""
    return {n for row in host.health._boards[board].numbers.missing for n in range(row.first, row.last + 1)}
