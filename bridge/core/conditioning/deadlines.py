"""Moments to wake at, by name: set, moved and taken back at the cost of one heap step.

Rule: a name has one moment at most; what was taken back or moved never wakes anyone; equal moments come in the order of
their names, so that a replay is the same.
"""

from __future__ import annotations

import heapq

Key = tuple[str, str, int, int]


class Deadlines:
    """Moments in host seconds, each under a key (kind, subject, and two numbers where one subject has several)."""

    def __init__(self) -> None:
        self._at: dict[Key, float] = {}
        self._heap: list[tuple[float, Key]] = []
        self._queued: dict[Key, float] = {}

    def set(self, kind: str, subject: str, t: float, one: int = 0, two: int = 0) -> None:
        """Wake at `t` for this key, and no longer at another moment."""
        key = (kind, subject, one, two)
        self._at[key] = t = round(t, 6)
        queued = self._queued.get(key)
        if queued is None or t < queued:  # a later moment is put right when the earlier one comes up
            self._queued[key] = t
            heapq.heappush(self._heap, (t, key))

    def drop(self, kind: str, subject: str, one: int = 0, two: int = 0) -> None:
        """Do not wake for this key."""
        self._at.pop((kind, subject, one, two), None)

    def waits(self, kind: str, subject: str, one: int = 0, two: int = 0) -> bool:
        """True where a moment is set for this key."""
        return (kind, subject, one, two) in self._at

    def put_off(self, by_s: float) -> None:
        """Every moment comes so many seconds later."""
        for (kind, subject, one, two), t in list(self._at.items()):
            self.set(kind, subject, t + by_s, one, two)

    def first(self) -> float | None:
        """The next moment, None when nothing waits."""
        while self._heap:
            t, key = self._heap[0]
            if self._queued.get(key) == t:
                moment = self._at.get(key)
                if moment == t:
                    return t
                if moment is not None:
                    self._queued[key] = moment
                    heapq.heapreplace(self._heap, (moment, key))
                    continue
                del self._queued[key]
            heapq.heappop(self._heap)
        return None

    def pop(self, t: float) -> tuple[float, Key] | None:
        """The next moment at or before `t` with its key, which waits no more; None when there is none."""
        moment = self.first()
        if moment is None or moment > t:
            return None
        _, key = heapq.heappop(self._heap)
        del self._queued[key], self._at[key]
        return moment, key
