"""When a line happened: one boot's milliseconds turned into host seconds.

Rule: a line is on its way for some time and never for less than none, so the offset (host minus board) is the least that
recent lines show. It follows a lower sample at once; it rises with the board's drift as measured, and at the end of each
window to the least that was heard in it, by 20,000 ppm at most. The corrected time never lies after the arrival.

Sources: ATmega328P internal oscillator up to 20,000 ppm, resonators some 2,000, crystals 10 to 30 (collected in the notes on
board clocks); 32 bits of milliseconds wrap after 49.7 days.
"""

from __future__ import annotations

import math
from bisect import bisect_right

_WORST_DRIFT = 0.025  # 20,000 ppm, with something to spare
_WINDOW_S = 10.0
_JUMP_S = 1.0
_JUMP_WINDOWS = 2
_KEPT = 80
_MEASURED = 8  # windows over which the drift is measured
_WRAP = 1 << 32


class BoardClock:
    """One boot's clock."""

    def __init__(self) -> None:
        self._newest_ms: int | None = None
        self._offset_s: float | None = None
        self._low_s: float | None = None
        self._window_t: float | None = None
        self._least_s = math.inf
        self._heard = 0
        self._windows = 0
        self._above = 0
        self._kept: list[tuple[int, float]] = []

    @property
    def offset_s(self) -> float | None:
        """Host seconds minus board seconds, None before any line."""
        return self._offset_s

    @property
    def drift_ppm(self) -> float | None:
        """How fast the offset grows (a slow board: above 0), None until it has been watched for some windows."""
        if len(self._kept) < 4:
            return None
        (one_ms, one_s), (other_ms, other_s) = self._kept[-_MEASURED:][0], self._kept[-1]
        return 1e9 * (other_s - one_s) / (other_ms - one_ms)

    def hear(self, ms: int, t: float) -> int:
        """Take one line's milliseconds, heard at host second `t`; them unwrapped, so that they sort this boot's lines."""
        if self._newest_ms is None:
            self._newest_ms = ms
        whole_ms = self._newest_ms + (ms - self._newest_ms + _WRAP // 2) % _WRAP - _WRAP // 2
        if self._take(t - whole_ms / 1000, max(0, whole_ms - self._newest_ms) / 1000 * self._rise()):
            self._newest_ms = max(self._newest_ms, whole_ms)
        self._turn_window(t)
        return whole_ms

    def begin_anew(self) -> None:
        """The host's clock has been set anew: forget the offset, but not how the milliseconds have wrapped."""
        self._offset_s = self._low_s = self._window_t = None
        self._windows = self._above = 0
        self._least_s, self._heard = math.inf, 0
        self._kept.clear()

    def happened_t(self, whole_ms: int, t: float) -> float:
        """The host second at which a line of these unwrapped milliseconds happened: 6 decimals, from 0, never after `t`."""
        offset_s = self._offset_s
        if self._kept and whole_ms < self._kept[-1][0]:
            offset_s = self._kept[bisect_right(self._kept, whole_ms, key=lambda row: row[0])][1]
        return t if offset_s is None else min(t, max(0.0, round(whole_ms / 1000 + offset_s, 6)))

    def _rise(self) -> float:
        return min(_WORST_DRIFT, max(0.0, (self.drift_ppm or 0.0) * 1e-6))

    def _take(self, offset_s: float, rise_s: float) -> bool:
        """Follow a lower sample at once; a leap down, once the clock is settled, only when a second line confirms it."""
        self._least_s = min(self._least_s, offset_s)
        self._heard += 1
        if self._offset_s is None:
            self._offset_s = offset_s
            return True
        if self._windows and offset_s < self._offset_s - _JUMP_S:
            confirmed = self._low_s is not None and abs(offset_s - self._low_s) < _JUMP_S
            self._low_s = offset_s
            if not confirmed:
                return False
            self._kept.clear()
        self._low_s = None
        self._offset_s = min(offset_s, self._offset_s + rise_s)
        return True

    def _turn_window(self, t: float) -> None:
        """Rise to the least of a window, and keep the offset for lines sent again.

        Where the least of several windows on end lies far above the offset, a damaged line had set that too low.
        """
        if self._window_t is None:
            self._window_t = t
        lasted_s = t - self._window_t
        if lasted_s < _WINDOW_S or self._heard < 2 or self._offset_s is None or self._newest_ms is None:
            return
        least_s = self._least_s
        self._above = self._above + 1 if least_s > self._offset_s + _JUMP_S else 0
        if self._above >= _JUMP_WINDOWS:
            self._offset_s, self._above = least_s, 0
            self._kept.clear()
        else:
            self._offset_s = max(self._offset_s, min(least_s, self._offset_s + lasted_s * _WORST_DRIFT))
        self._window_t, self._least_s, self._heard = t, math.inf, 0
        self._windows += 1
        if not self._kept or self._newest_ms > self._kept[-1][0]:
            self._kept.append((self._newest_ms, self._offset_s))
            del self._kept[:-_KEPT]
