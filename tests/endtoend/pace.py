"""A clock that goes faster than the real one, for the boards and for the host that listens to them alike.

Rule: what a busy machine costs does not count. A moment in which this process did not run counts short, and while a line
takes longer on its wire than it would on a real one the clock stands still: else at 25 times the speed a fifth of a second
without the processor is a silent board.
"""

from __future__ import annotations

import threading
import time
from bisect import bisect_right
from collections import OrderedDict, defaultdict
from collections.abc import Callable

from bridge.virtual.wires import Hear, Wire
from bridge.wire.lines import BoardLine

LONGEST_GAP_S = 0.05
SAMPLE_S = 0.001
USUAL_S = 0.02
"""Real seconds that a line is on its wire at most before the clock waits for it."""
LOST_S = 1.0
"""A line that has not come after so long is lost, and not waited for."""


class Pace:
    """Seconds that run `speed` times as fast as real ones; the speed may be changed. `is_held`: whether it stands still."""

    def __init__(self, speed: float, is_held: Callable[[float], bool]) -> None:
        self._speed = speed
        self._is_held = is_held
        self._t = 0.0
        self._at = time.monotonic()
        self._lock = threading.Lock()
        self._walls: list[float] = []
        self._ts: list[float] = []

    def __call__(self) -> float:
        """The second of this moment."""
        with self._lock:
            now = time.monotonic()
            if not self._is_held(now):
                self._t += min(now - self._at, LONGEST_GAP_S) * self._speed
            self._at = now
            wall = time.time()
            if not self._walls or wall - self._walls[-1] >= SAMPLE_S:
                self._walls.append(wall)
                self._ts.append(self._t)
            return self._t

    def go(self, speed: float) -> None:
        """Run so many times as fast as a real clock from now on."""
        self()
        with self._lock:
            self._speed = speed

    def at(self, wall: float) -> float:
        """The second that it was at a time of day (unix seconds)."""
        return _between(self._walls, self._ts, wall)

    def wall(self, t: float) -> float:
        """The time of day at which it was second `t`."""
        return _between(self._ts, self._walls, t)


def _between(xs: list[float], ys: list[float], x: float) -> float:
    n = bisect_right(xs, x)
    if n == 0 or n == len(xs):
        return ys[min(n, len(ys) - 1)]
    return ys[n - 1] + (x - xs[n - 1]) / (xs[n] - xs[n - 1]) * (ys[n] - ys[n - 1])


class Underway:
    """The lines that boards have sent and the host has not received yet."""

    def __init__(self) -> None:
        self._lines: defaultdict[str, OrderedDict[BoardLine, float]] = defaultdict(OrderedDict)
        self._lock = threading.Lock()

    def is_late(self, now: float) -> bool:
        """Whether a line is longer on its wire than is usual (`now`: real seconds)."""
        with self._lock:
            for lines in self._lines.values():
                while lines and now - next(iter(lines.values())) > LOST_S:
                    lines.popitem(last=False)
                if lines and now - next(iter(lines.values())) > USUAL_S:
                    return True
        return False

    def sent(self, line: BoardLine) -> None:
        with self._lock:
            self._lines[line.board][line] = time.monotonic()

    def received(self, line: BoardLine) -> None:
        """A line has come, and with it all that came before it on the same wire."""
        with self._lock:
            lines = self._lines[line.board]
            while line in lines:
                lines.popitem(last=False)


class WatchedWire:
    """A wire whose lines are known to be underway."""

    def __init__(self, wire: Wire, underway: Underway) -> None:
        self._wire, self._underway = wire, underway

    def start(self, hear: Hear) -> None:
        self._wire.start(hear)

    def say(self, board: str, line: BoardLine) -> bool:
        self._underway.sent(line)  # before it is, for it may be received at once
        is_its = self._wire.say(board, line)
        if not is_its:
            self._underway.received(line)
        return is_its

    def stop(self) -> None:
        self._wire.stop()
