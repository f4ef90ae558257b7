"""When a line happened: one boot's milliseconds turned into host seconds.

Rule: a line is on its way for some time and never for less than none, so the offset (host minus board) is the least that
recent lines show. It may rise by what a poor oscillator drifts, 20,000 ppm until the board's own drift is known, and it
follows every lower sample at once. The corrected time never lies after the arrival.

Sources: ATmega328P internal oscillator up to 20,000 ppm, resonators some 2,000, crystals 10 to 30 (collected in the notes on
board clocks); 32 bits of milliseconds wrap after 49.7 days.
"""

from __future__ import annotations

from bisect import bisect_right

WORST_DRIFT = 0.025  # 20,000 ppm, with something to spare
_SPARE_DRIFT = 0.001  # beyond the drift as measured
_WINDOW_S = 20.0
_JUMP_S = 1.0
_KEPT = 64
_WRAP = 1 << 32


class BoardClock:
    """One boot's clock."""

    def __init__(self) -> None:
        self._newest_ms: int | None = None
        self._offset_s: float | None = None
        self._low_s: float | None = None
        self._least_s: float | None = None
        self._window_t: float | None = None
        self._windows = 0
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
        (one_ms, one_s), (other_ms, other_s) = self._kept[max(0, len(self._kept) - 10)], self._kept[-1]
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
        self._offset_s = self._low_s = self._least_s = None
        self._windows = 0
        self._kept.clear()

    def happened_t(self, whole_ms: int, t: float) -> float:
        """The host second at which a line of these unwrapped milliseconds happened; 6 decimals, never after `t`."""
        offset_s = self._offset_s
        if self._kept and whole_ms < self._kept[-1][0]:
            offset_s = self._kept[bisect_right(self._kept, whole_ms, key=lambda row: row[0])][1]
        return t if offset_s is None else min(t, round(whole_ms / 1000 + offset_s, 6))

    def _rise(self) -> float:
        drift = self.drift_ppm
        return WORST_DRIFT if drift is None else min(WORST_DRIFT, max(0.0, drift * 1e-6) + _SPARE_DRIFT)

    def _take(self, offset_s: float, rise_s: float) -> bool:
        """Follow a lower sample at once; a leap down, once the clock is settled, only when a second line confirms it."""
        if self._offset_s is None:
            self._offset_s = self._least_s = offset_s
            self._window_t = None
            return True
        self._least_s = offset_s if self._least_s is None else min(self._least_s, offset_s)
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
        """Keep the offset of every window; where all of one lay far above it, a damaged line had set it too low."""
        if self._window_t is None:
            self._window_t = t
        if t - self._window_t < _WINDOW_S or self._offset_s is None or self._newest_ms is None:
            return
        if self._least_s is not None and self._least_s > self._offset_s + _JUMP_S:
            self._offset_s = self._least_s
            self._kept.clear()
        self._window_t, self._least_s = t, None
        self._windows += 1
        if not self._kept or self._newest_ms > self._kept[-1][0]:
            self._kept.append((self._newest_ms, self._offset_s))
            del self._kept[:-_KEPT]
