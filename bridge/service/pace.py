"""How fast something may come: a store of tokens for each input, or link, that fills up again as time passes.

Rule: what comes too fast once is held down until it has been calm for a moment, so that it is known or unknown for a while
and does not flicker between the two. Memory is bounded.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

BURST = 400.0
"""Lines at once of one input: what a treadle gives under several trains on end, and all that a board sends again."""

A_SECOND = 20.0
"""Lines a second for ever: no debounced input of a working railway comes near it. Common practice, no source."""

CALM_AFTER_S = 0.75
RECENT_S = 5.0
MOST = 4_096

Key = tuple[str | int, ...]


@dataclass(slots=True)
class Pace:
    """Of one input or link: tokens left at `t`, whether it is held down, and how many came a second."""

    t: float
    tokens: float = BURST
    is_held: bool = False
    a_second: int = 0
    highest: int = 0
    counted: int = 0
    counted_from_t: float = 0.0

    def take(self, t: float, cost: float) -> bool:
        """Whether what comes at host second `t` may pass."""
        self.tokens = min(BURST, self.tokens + max(0.0, t - self.t) * A_SECOND)
        self.t = max(self.t, t)
        self._count(t)
        if self.is_held and self.tokens >= CALM_AFTER_S * A_SECOND:
            self.is_held, self.highest = False, 0
        if self.is_held or self.tokens < 1.0:
            self.is_held, self.tokens = True, max(0.0, self.tokens - cost)
            self.highest = max(self.highest, self.a_second)
            return False
        self.tokens -= cost
        return True

    def _count(self, t: float) -> None:
        passed_s = t - self.counted_from_t
        if passed_s >= 1.0:
            self.a_second = math.ceil(self.counted / passed_s)
            self.counted, self.counted_from_t = 0, t
        self.counted += 1
        self.a_second = max(self.a_second, self.counted)


class Paces:
    """The paces of all inputs and links that were heard of late."""

    def __init__(self) -> None:
        self._of: dict[Key, Pace] = {}

    def take(self, key: Key, t: float, cost: float = 1.0) -> bool:
        """Whether what comes of `key` at host second `t` may pass."""
        pace = self._of.get(key)
        if pace is None:
            if len(self._of) >= MOST:
                self._make_room(t)
            pace = self._of[key] = Pace(t, counted_from_t=t)
        return pace.take(t, cost)

    def a_second(self, key: Key) -> int:
        """How many came of late in a second, in round figures."""
        return in_round_figures(self._of[key].a_second)

    def held(self, t: float) -> Iterator[tuple[Key, int]]:
        """What is held down and has come within the last seconds, and how many a second at the most."""
        for key, pace in self._of.items():
            if pace.is_held and t - pace.t < RECENT_S:
                yield key, in_round_figures(pace.highest)

    def _make_room(self, t: float) -> None:
        """Forget who has been calm for long enough to begin anew, or else whoever was heard of first."""
        idle = [key for key, pace in self._of.items() if t - pace.t > BURST / A_SECOND]
        for key in idle or [next(iter(self._of))]:
            del self._of[key]


def in_round_figures(number: int) -> int:
    """A number to two figures: 4,987 is 5,000."""
    if number < 100:
        return number
    step = 10 ** (len(str(number)) - 2)
    return int(round(number / step) * step)
