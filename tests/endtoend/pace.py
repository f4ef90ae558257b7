"""A clock that goes faster than the real one, for the boards and for the host that listens to them alike.

Rule: a moment in which this process did not run (the machine had other things to do) does not count in full, so that a busy
machine is not taken for a silent board.
"""

from __future__ import annotations

import threading
import time
from bisect import bisect_right

LONGEST_GAP_S = 0.05
SAMPLE_S = 0.001


class Pace:
    """Seconds that run `speed` times as fast as real ones; the speed may be changed."""

    def __init__(self, speed: float) -> None:
        self._speed = speed
        self._t = 0.0
        self._at = time.monotonic()
        self._lock = threading.Lock()
        self._walls: list[float] = []
        self._ts: list[float] = []

    def __call__(self) -> float:
        """The second of this moment."""
        with self._lock:
            now = time.monotonic()
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
        """The second that it was at a time of day (unix seconds); between two readings of this clock by their mean pace."""
        n = bisect_right(self._walls, wall)
        if n == 0 or n == len(self._walls):
            return self._ts[min(n, len(self._ts) - 1)]
        share = (wall - self._walls[n - 1]) / (self._walls[n] - self._walls[n - 1])
        return self._ts[n - 1] + share * (self._ts[n] - self._ts[n - 1])

    def wall(self, t: float) -> float:
        """The time of day at which it was second `t`."""
        n = bisect_right(self._ts, t)
        if n == 0 or n == len(self._ts):
            return self._walls[min(n, len(self._ts) - 1)]
        share = (t - self._ts[n - 1]) / (self._ts[n] - self._ts[n - 1])
        return self._walls[n - 1] + share * (self._walls[n] - self._walls[n - 1])
