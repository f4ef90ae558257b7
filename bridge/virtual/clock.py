"""The session clock as the crews read it on the station wall.

Rule: it runs at the railway's rate from `begin`, and stands still between `stop-clock` and `go-on`.
"""

from __future__ import annotations


class SessionClock:
    """Seconds since midnight of the session, from seconds of the evening."""

    def __init__(self, rate: float, begin_s: float) -> None:
        self.rate = rate
        self._shown_s = begin_s
        self._since_s: float | None = None

    @property
    def running(self) -> bool:
        """Whether it goes."""
        return self._since_s is not None

    def shows(self, now_s: float) -> float:
        """What it shows; before `begin` the time it will begin at."""
        return self._shown_s if self._since_s is None else self._shown_s + (now_s - self._since_s) * self.rate

    def go(self, now_s: float) -> None:
        """It begins, or goes on."""
        if self._since_s is None:
            self._since_s = now_s

    def stop(self, now_s: float) -> None:
        """It is stopped."""
        self._shown_s = self.shows(now_s)
        self._since_s = None

    def wait_s(self, until_s: float, now_s: float) -> float:
        """Real seconds until it shows a time, if nobody stops it; 0 when it is past."""
        return max(until_s - self.shows(now_s), 0.0) / self.rate
