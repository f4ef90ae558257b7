"""The session clock: the railway's own time, which may run faster than real time, be stopped, and stands still while the
service is down.

Rule: it is told every moment and asks for none. Session times are seconds since the midnight before `begin`, never folded
at 24:00: they may pass 86,400 and compare as they are. Every time that leaves here is rounded to a millionth of a second,
so that no float noise reaches an outcome.
"""

from __future__ import annotations

import math
import re

_is_clock = re.compile(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d))?").fullmatch
_STEP = 1_000_000  # host times have 6 decimals
_NOISE_S = 5e-7  # half a step: what lies so little below a full second is that second


def parse_clock(text: str) -> float | None:
    """Seconds since midnight of "HH:MM" or "HH:MM:SS" (hours may pass 23), None where the text is no time."""
    found = _is_clock(text.strip()) if text.isascii() else None
    if found is None:
        return None
    hours, minutes, seconds = found.groups(default="0")
    return float(int(hours) * 3600 + int(minutes) * 60 + int(seconds))


def clock_text(session_s: float) -> str:
    """A session time (seconds, from 0) as "HH:MM:SS", its begun second; past midnight the hours go on: "24:05:10"."""
    whole = math.floor(session_s + _NOISE_S)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


class SessionClock:
    """One session's clock. `rate`: railway minutes to one real minute, above 0."""

    def __init__(self, rate: float) -> None:
        if not rate > 0:
            raise ValueError(f"a session clock needs a rate above 0, not {rate}")
        self.rate = rate
        self._base_s: float | None = None
        self._base_t = 0.0
        self._stopped = False
        self._down = False

    @property
    def begun(self) -> bool:
        """Whether `begin` has been told."""
        return self._base_s is not None

    @property
    def stopped(self) -> bool:
        """Whether an operator has stopped it."""
        return self._stopped

    def begin(self, clock_s: float, t: float) -> None:
        """Set to `clock_s` (seconds since midnight) at host second `t`, and start."""
        self._base_s, self._base_t = clock_s, t
        self._stopped = self._down = False

    def stop(self, t: float) -> None:
        """An operator stops it; nothing where it stands already."""
        self._hold(t)
        self._stopped = True

    def go_on(self, t: float) -> None:
        """An operator lets it go on; nothing where it runs."""
        self._hold(t)
        self._stopped = False

    def host_stopped(self, t: float) -> None:
        """The service stopped: the clock stands still until it starts."""
        self._hold(t)
        self._down = True

    def host_started(self, t: float) -> None:
        """The service started; a clock that an operator had stopped stays stopped."""
        self._hold(t)
        self._down = False

    def session_s(self, t: float) -> float | None:
        """The session time at host second `t`, None before `begin`."""
        if self._base_s is None:
            return None
        if self._stopped or self._down:
            return self._base_s
        return round(self._base_s + max(0.0, t - self._base_t) * self.rate, 6)

    def host_t(self, session_s: float) -> float | None:
        """The first host second (to 6 decimals) at which the clock has reached `session_s`; at or before now where it has
        already. None before `begin` and while it stands, for then nothing tells when.
        """
        if self._base_s is None or self._stopped or self._down:
            return None
        wait_s = max(0.0, session_s - self._base_s) / self.rate
        t = math.floor((self._base_t + wait_s) * _STEP) / _STEP
        while (reached := self.session_s(t)) is not None and reached < session_s:
            t = (round(t * _STEP) + 1) / _STEP
        return t

    def text(self, t: float) -> str | None:
        """The clock's face at host second `t`: "HH:MM:SS", past midnight "24:05:10"; None before `begin`."""
        session_s = self.session_s(t)
        return None if session_s is None else clock_text(session_s)

    def _hold(self, t: float) -> None:
        """Take the present moment for the base, so that what follows counts from here."""
        self._base_s, self._base_t = self.session_s(t), t
