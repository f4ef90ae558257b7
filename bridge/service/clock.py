"""The clocks of the host: seconds since the store's first line, which never run back, and the time of day beside them.

Rule: only the monotonic clock counts seconds; the time of day is asked once, to go on after a restart.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from bridge.journal import Moment

LONGEST_PAUSE_S = 100_000_000.0
"""About three years: a longer pause was a clock that had not been set, and seconds in a capture have nine digits."""

DECIMALS = 6
STEP_S = 1e-6


class HostClock:
    """Host seconds, going on from `start_t`."""

    def __init__(
        self, start_t: float, monotonic: Callable[[], float] = time.monotonic, wall: Callable[[], float] = time.time
    ) -> None:
        self._start_t = start_t
        self._monotonic = monotonic
        self._wall = wall
        self._zero = monotonic()

    def __call__(self) -> float:
        """The host second of this moment."""
        return self._start_t + self._monotonic() - self._zero

    def now(self) -> Moment:
        """This moment by both clocks."""
        return Moment(self(), self._wall())


def going_on(last: Moment | None, last_t: float, wall: float) -> float:
    """The host second at which a store goes on: from its last moment by the difference of the wall clocks, never back.

    `last_t` is the time of its last line or deadline, `wall` the time of day now (unix seconds).
    """
    if last is None:
        return 0.0
    pause_s = min(max(0.0, wall - last.wall), LONGEST_PAUSE_S)
    return max(last_t, last.t + pause_s)


def not_before(t: float, floor_t: float) -> float:
    """`t` with 6 decimals, and not before `floor_t`, which may have more of them."""
    rounded = round(max(t, floor_t), DECIMALS)
    return rounded if rounded >= floor_t else round(floor_t + STEP_S, DECIMALS)
