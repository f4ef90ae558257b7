"""The clocks of the host: seconds since the store's first line, which never run back, and the time of day beside them.

Rule: only a clock that nobody sets counts seconds; it counts on while the host sleeps. The time of day is asked to go on
after a restart, and noted: where it was set (an hour on, back to 1970, to the present where it had none) that is kept once,
and nothing else depends on it. A clock that is slewed (some thousandths a second) is never taken for one that was set.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta

from bridge.journal import ClockStep, Moment
from bridge.service.sleep import elapsed_s

LONGEST_PAUSE_S = 100_000_000.0
"""About three years: a longer pause was a clock that had not been set, and seconds in a capture have nine digits."""

SET_S = 2.0
"""A time of day that has moved against the seconds by more than this since it was last read has been set."""

NOTICE_S = 600.0

DECIMALS = 6
STEP_S = 1e-6
_TWO_READINGS_S = 0.05
_TRIES = 5


class HostClock:
    """Host seconds, going on from `start_t`, `pace` of them to a real second. `last`: the latest moment of the store."""

    def __init__(
        self,
        start_t: float,
        monotonic: Callable[[], float] = elapsed_s,
        wall: Callable[[], float] = time.time,
        *,
        pace: float = 1.0,
        last: Moment | None = None,
    ) -> None:
        self._start_t = start_t
        self._monotonic = monotonic
        self._wall = wall
        self._pace = pace
        self._zero = monotonic()
        self._steps: list[ClockStep] = []
        self._notices: list[tuple[float, str]] = []
        elapsed, self._wall_now = self._read()
        self._ahead = self._wall_now - elapsed
        if last is not None and not 0.0 <= self._wall_now - last.wall + SET_S <= LONGEST_PAUSE_S:
            self._note(ClockStep(start_t, last.wall, self._wall_now, running=False))

    def __call__(self) -> float:
        """The host second of this moment."""
        return self._start_t + (self._monotonic() - self._zero) * self._pace

    def now(self) -> Moment:
        """This moment by both clocks. To be asked from one thread: it notes where the time of day was set."""
        elapsed, wall = self._read()
        t = self._start_t + (elapsed - self._zero) * self._pace
        ahead, self._ahead = self._ahead, wall - elapsed
        if abs(self._ahead - ahead) > SET_S:
            self._note(ClockStep(round(t, DECIMALS), elapsed + ahead, wall, running=True))
        return Moment(t, wall)

    def take_steps(self) -> list[ClockStep]:
        """Where the time of day was set since this was last asked, to be journalled."""
        steps, self._steps = self._steps, []
        return steps

    def notices(self) -> list[str]:
        """What an operator has to know of it now: each for ten minutes."""
        t = self.now().t
        self._notices = [(said_t, text) for said_t, text in self._notices if t - said_t < NOTICE_S * self._pace]
        return [text for _, text in self._notices]

    def _note(self, step: ClockStep) -> None:
        self._steps.append(step)
        self._notices.append((step.t, f"{told(step)} Nothing here depends on it."))

    def _read(self) -> tuple[float, float]:
        """Both clocks as of one moment: not across one at which this process did not run."""
        for _ in range(_TRIES):
            before = self._monotonic()
            wall = self._wall()
            elapsed = self._monotonic()
            if elapsed - before < _TWO_READINGS_S:
                break
        return elapsed, wall


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


def told(step: ClockStep) -> str:
    """A sentence: by how much the computer's clock was set, and what it showed then."""
    way = "forward" if step.after > step.before else "back"
    by = timedelta(seconds=round(abs(step.after - step.before)))
    shown = time.strftime("%d %b %Y, %H:%M:%S", time.localtime(step.after))
    if not step.running:
        return f"The computer's clock was found {by} {way} of where the journal had left it; it showed {shown}."
    return f"The computer's clock was set {way} by {by}; it then showed {shown}."
