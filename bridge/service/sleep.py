"""When this computer sleeps (a laptop's lid closed), or this process is stopped: time goes on, and nothing was heard in it.

Rule: seconds count on while the host sleeps, so that what was heard before is old when it wakes; and the loop is told, so
that it journals a stop and a start of the service: earlier observations are stale, and no deadline passes in between.

Linux: CLOCK_BOOTTIME counts in sleep, CLOCK_MONOTONIC does not (clock_gettime(2)). macOS: CLOCK_MONOTONIC counts in sleep,
CLOCK_UPTIME_RAW does not (its clock_gettime(3); from memory, never tried on one). Elsewhere only a wait that lasted too long
tells.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

SLEPT_S = 2.0
OVERSLEPT_S = 3.0
"""A wait that lasts so much longer than it was to: the process was stopped. Less than a board's silence of 6 s minus 2 s."""

_TWO_READINGS_S = 0.01


def _clocks() -> tuple[int, int] | None:
    """The clock that counts in sleep, and the one that does not; None where the system has no such pair."""
    if sys.platform == "linux":
        return time.CLOCK_BOOTTIME, time.CLOCK_MONOTONIC
    if sys.platform == "darwin":
        return time.CLOCK_MONOTONIC, time.CLOCK_UPTIME_RAW
    return None


_CLOCKS = _clocks()


def elapsed_s() -> float:
    """Seconds since some moment before this process began, sleep included; never back."""
    return time.monotonic() if _CLOCKS is None else time.clock_gettime(_CLOCKS[0])


def slept_s() -> float:
    """Seconds that this computer has slept so far, to some hundredths; 0 where the system does not tell."""
    if _CLOCKS is None:
        return 0.0
    counting, standing = _CLOCKS
    while True:  # not across a moment at which this process did not run
        before = time.clock_gettime(standing)
        slept = time.clock_gettime(counting) - before
        if time.clock_gettime(standing) - before < _TWO_READINGS_S:
            return slept


@dataclass(frozen=True, slots=True)
class Stood:
    """The host or this process stood still: `last_t` was the last moment before (host seconds), `now_t` is it now.

    What came before `cut_t` was heard before, the rest since.
    """

    last_t: float
    cut_t: float
    now_t: float


class Vigil:
    """Tells the loop when it has stood still. `clock` gives host seconds, `elapsed` and `slept` real ones."""

    def __init__(
        self,
        clock: Callable[[], float],
        elapsed: Callable[[], float] = elapsed_s,
        slept: Callable[[], float] = slept_s,
    ) -> None:
        self._clock = clock
        self._elapsed = elapsed
        self._slept = slept
        self.t = clock()
        """The host second of the last look: nothing later is known to have passed awake."""
        self._slept_s = slept()
        self._wait_t = self.t
        self._until_s = elapsed()

    def wait(self, patience_s: float) -> None:
        """A wait begins that is to last `patience_s` seconds at most."""
        self._wait_t = self._clock()
        self._until_s = self._elapsed() + patience_s

    def look(self) -> Stood | None:
        """The wait is over: whether the host has slept since the last look, or the process was stopped in the wait."""
        t, last_t = self._clock(), self.t
        slept_s = self._slept()  # behind the reading of the clock: else a sleep between the two went unnoticed
        has_slept = slept_s - self._slept_s > SLEPT_S
        overslept = self._elapsed() - self._until_s > OVERSLEPT_S
        self._slept_s = slept_s
        if not (has_slept or overslept):
            self.t = t
            return None
        self.t = self._clock()
        before_t = max(last_t, self._wait_t) if overslept else last_t
        return Stood(before_t, (before_t + self.t) / 2, self.t)
