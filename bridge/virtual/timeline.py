"""The one order of everything: virtual time, and what is to happen at which instant of it.

Rule: nothing here looks at a real clock. What is due at the same instant happens in the order in which it was asked for.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable


class Timeline:
    """Things to do, by their time in seconds."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self._due: list[tuple[float, int, Callable[[], None]]] = []
        self._asked = 0

    def at(self, t_s: float, do: Callable[[], None]) -> None:
        """Do something at a time, at once if that is past."""
        self._asked += 1
        heapq.heappush(self._due, (max(t_s, self.now_s), self._asked, do))

    def after(self, seconds: float, do: Callable[[], None]) -> None:
        """Do something so many seconds from now."""
        self.at(self.now_s + seconds, do)

    @property
    def next_s(self) -> float | None:
        """When something is due next; None when nothing is."""
        return self._due[0][0] if self._due else None

    def step(self) -> None:
        """Do what is due next."""
        self.now_s, _, do = heapq.heappop(self._due)
        do()

    def skip_to(self, t_s: float) -> None:
        """Let time pass in which nothing is due."""
        self.now_s = max(self.now_s, min(t_s, self.next_s if self.next_s is not None else t_s))
