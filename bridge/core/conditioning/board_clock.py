"""When a line happened: one boot's milliseconds turned into host seconds.

Rule: a line is on its way for some time and never for less than none, so the offset (host minus board) is a straight line
that lies under every sample of the last minute, as near to them as it can: its slope is the board's drift. It follows a
lower sample at once. Samples more than a second above it were held up and tell nothing, until several on end say the same:
then the board's clock stood still (it slept), or a damaged line had set the offset too low. The corrected time never lies
after the arrival.

Over a stop of the service the line holds on: what a broker kept meanwhile happened when its board says. The host's seconds
may have leapt, though, so the board's next hello, which is said when it is asked for, is believed at once.

Sources: ATmega328P internal oscillator up to 20,000 ppm, resonators some 2,000, crystals 10 to 30 (collected in the notes on
board clocks); 32 bits of milliseconds wrap after 49.7 days. The line under the samples that is nearest to them is that edge
of their lower convex hull which stands over their mean: Moon, Skelly and Towsley, "Estimation and removal of clock skew from
network delay measurements", 1999 (from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

_WORST_DRIFT = 0.025  # 20,000 ppm, with something to spare
_WATCHED_S = 60.0
_APART_S = 1.5  # of samples nearer to each other the lowest is kept: a board says `alive` every 2 s
_APART_LATER_S = 5.0  # once there are more than a few: so the line is put anew seldom, and from little
_FEW = 10
_LEAST = 4  # samples for a slope, and how far apart
_LEAST_S = 5.5
_JUMP_S = 1.0
_JUMP_LASTS_S = 5.0
_ANCHOR_S = 10.0
_ANCHORS = 80
_WRAP = 1 << 32

_Sample = tuple[float, float]
"""Board seconds, unwrapped, and host minus board seconds."""


@dataclass(slots=True)
class _Above:
    """Samples on end that lie far above the line alike: when the first was heard, the last one's board seconds, how many."""

    first_t: float
    first: _Sample
    last_s: float
    count: int = 1


class BoardClock:
    """One boot's clock."""

    def __init__(self) -> None:
        self._newest_ms: int | None = None
        self._base_s: float | None = None  # the offset at board second 0
        self._drift = 0.0
        self._is_measured = False
        self._is_doubted = False  # the host's seconds may have leapt since the last hello
        self._samples: list[_Sample] = []
        self._next_s = 0.0  # from this board second on a sample is kept beside the last one, not in its place
        self._low: _Sample | None = None
        self._above: _Above | None = None
        self._anchors: list[_Sample] = []

    @property
    def offset_s(self) -> float | None:
        """Host seconds minus board seconds at the newest line, None before any line."""
        return None if self._newest_ms is None or self._base_s is None else self._line(self._newest_ms / 1000)

    @property
    def drift_ppm(self) -> float | None:
        """How fast the offset grows (a slow board: above 0), None until it has been watched for some seconds."""
        return self._drift * 1e6 if self._is_measured else None

    @property
    def is_settled(self) -> bool:
        """Whether the drift has been measured, so that a line far above the offset was long on its way."""
        return self._is_measured

    def hear(self, ms: int, t: float, is_hello: bool = False) -> int:
        """Take one line's milliseconds, heard at host second `t`; them unwrapped, so that they sort this boot's lines."""
        if self._newest_ms is None:
            self._newest_ms = ms
        whole_ms = self._newest_ms + (ms - self._newest_ms + _WRAP // 2) % _WRAP - _WRAP // 2
        sample = (whole_ms / 1000, t - whole_ms / 1000)
        if self._base_s is None:
            self._start(sample)
        elif self._is_doubted and self._has_leapt(sample, is_hello):
            self._go_on(sample, sample)
        elif sample[1] > self._line(sample[0]) + _JUMP_S:
            self._take_above(sample, t)
        elif self._take(sample):
            self._newest_ms = max(self._newest_ms, whole_ms)
        self._is_doubted = self._is_doubted and not is_hello
        return whole_ms

    def begin_anew(self) -> None:
        """The service was down: the host's seconds may have leapt, which the next lines will show."""
        self._is_doubted = True
        self._low = self._above = None
        if self._newest_ms is not None:
            newest_s = self._newest_ms / 1000
            self._anchors = [*(anchor for anchor in self._anchors if anchor[0] < newest_s), (newest_s, self._line(newest_s))]

    def happened_t(self, whole_ms: int, t: float) -> float:
        """The host second at which a line of these unwrapped milliseconds happened: 6 decimals, from 0, never after `t`."""
        if self._base_s is None:
            return t
        board_s = whole_ms / 1000
        return min(t, max(0.0, round(board_s + self._offset_at(board_s), 6)))

    def _line(self, board_s: float) -> float:
        assert self._base_s is not None
        return self._base_s + self._drift * board_s

    def _offset_at(self, board_s: float) -> float:
        """The offset of the time at which a line was made, for one that is sent again later."""
        place = bisect_right(self._anchors, board_s, key=lambda anchor: anchor[0])
        if place == len(self._anchors):
            return self._line(board_s)
        (next_s, next_offset_s), before = self._anchors[place], self._anchors[place - 1] if place else None
        if before is None:
            return next_offset_s + self._drift * (board_s - next_s)
        slope = (next_offset_s - before[1]) / (next_s - before[0])
        return before[1] + (slope if abs(slope) <= _WORST_DRIFT else self._drift) * (board_s - before[0])

    def _has_leapt(self, sample: _Sample, is_hello: bool) -> bool:
        """Whether the host's seconds have leapt while the service was down: nothing comes before it is said, nor a hello so
        long after."""
        above_s = sample[1] - self._line(sample[0])
        has_leapt = above_s < -_JUMP_S or (is_hello and above_s > _JUMP_S)
        self._is_doubted = self._is_doubted and not has_leapt
        return has_leapt

    def _start(self, sample: _Sample) -> None:
        """Go on from this sample alone, with the drift as it is known."""
        self._low = None
        self._above = None
        self._samples, self._next_s = [sample], sample[0] + _APART_S
        self._base_s = sample[1] - self._drift * sample[0]

    def _take(self, sample: _Sample) -> bool:
        """A sample by the line, or under it; one far under a settled line counts when a second one confirms it."""
        self._above = None
        board_s, offset_s = sample
        if offset_s < self._line(board_s) - _JUMP_S:
            low, self._low = self._low, sample
            if len(self._samples) >= _LEAST and (low is None or abs(offset_s - low[1]) >= _JUMP_S):
                return False
            self._anchors.clear()
            self._start(sample)
            return True
        self._low = None
        last = self._samples[-1]
        if board_s >= self._next_s:
            self._samples.append(sample)
            self._fit()
            self._next_s = board_s + (_APART_S if len(self._samples) < _FEW else _APART_LATER_S)
        elif board_s > last[0] and offset_s - last[1] < self._drift * (board_s - last[0]):
            self._samples[-1] = sample
        assert self._base_s is not None
        self._base_s = min(self._base_s, offset_s - self._drift * board_s)
        return True

    def _take_above(self, sample: _Sample, t: float) -> None:
        """A sample that was held up, or one of several that were not: those go on with the board's clock and the host's."""
        run = self._above
        if run is None or sample[0] <= run.last_s or abs(sample[1] - run.first[1]) >= _JUMP_S:
            self._above = _Above(t, sample, sample[0])
            return
        run.last_s, run.count = sample[0], run.count + 1
        if run.count < _LEAST - 1 or t - run.first_t < _JUMP_LASTS_S:
            return
        self._go_on(run.first, sample)

    def _go_on(self, first: _Sample, sample: _Sample) -> None:
        """Go on from a sample with the drift as it is known; `first` is whence the offset is another than before."""
        self._newest_ms = round(sample[0] * 1000)
        self._anchors = [*(anchor for anchor in self._anchors if anchor[0] < first[0]), first]
        self._start(sample)

    def _fit(self) -> None:
        """The line anew, from the samples of the last minute."""
        newest_s = self._samples[-1][0]
        self._samples = [sample for sample in self._samples if sample[0] >= newest_s - _WATCHED_S]
        if len(self._samples) >= _LEAST and newest_s - self._samples[0][0] >= _LEAST_S:
            self._drift = min(_WORST_DRIFT, max(-_WORST_DRIFT, _slope_under(self._samples)))
            self._is_measured = True
        self._base_s = min(offset_s - self._drift * board_s for board_s, offset_s in self._samples)
        if not self._anchors or newest_s >= self._anchors[-1][0] + _ANCHOR_S:
            self._anchors.append((newest_s, self._line(newest_s)))
            del self._anchors[:-_ANCHORS]


def _slope_under(samples: list[_Sample]) -> float:
    """The slope of the lower convex hull's edge over the mean of two or more samples, sorted and apart."""
    hull: list[_Sample] = []
    for sample in samples:
        while len(hull) > 1 and _slope(hull[-2], hull[-1]) >= _slope(hull[-1], sample):
            hull.pop()
        hull.append(sample)
    mean_s = sum(board_s for board_s, _ in samples) / len(samples)
    at = min(max(1, bisect_right(hull, mean_s, key=lambda sample: sample[0])), len(hull) - 1)
    return _slope(hull[at - 1], hull[at])


def _slope(one: _Sample, other: _Sample) -> float:
    return (other[1] - one[1]) / (other[0] - one[0])
