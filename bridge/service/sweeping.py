"""When memory is swept for what nothing leads to any more: while nothing is to be done, not in the midst of a report.

Rule: what has been kept for long is walked through by nobody while reports come in, for on a large railway that holds one up
by tens of ms; so Python is told not to do it by itself. It is done in a turn in which nothing has come, or, where something
always comes, late but at last. What is new is swept by Python as ever, which costs less than a millisecond.
"""

from __future__ import annotations

import gc

NEW = 3_000
"""Python sweeps what is new after so many more objects: one that is gone by then, as most are, costs nothing."""
IDLE_S = 60.0  # in a quiet turn, so long after the last time
LATEST_S = 1800.0  # in any turn
BY_ITSELF = 1_000_000
"""Python sweeps what has been kept for long after so many sweeps of what has not: never."""


def spare() -> None:
    """What has been read so far stays for good: it is swept no more. All else that is kept is swept by a `Sweep` alone."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(NEW, gc.get_threshold()[1], BY_ITSELF)


class Sweep:
    """Sweeps everything that is kept, seldom."""

    def __init__(self, now_s: float) -> None:
        self._last_s = now_s

    def turned(self, now_s: float, is_idle: bool) -> None:
        """A turn of the loop is over, at monotonic second `now_s`. `is_idle`: nothing had come."""
        if now_s - self._last_s >= (IDLE_S if is_idle else LATEST_S):
            gc.collect()
            self._last_s = now_s
