"""What the loop shows: the newest picture, as often as it takes the loop no more than a tenth of its
time, and every outcome to whoever takes them.

Rule: nothing that goes wrong in showing reaches the loop.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from bridge.core.outcomes import Outcome
from bridge.dashboard import Shown
from bridge.journal import Moment
from bridge.service.backlog import Unkept
from bridge.service.noticeboard import Noticeboard

Outlet = Callable[[Mapping[str, Any]], None]
"""Takes one outcome as the object of the contract; called in the loop's thread, it must return at once."""

KEPT_OUTCOMES = 200
SHORTEST_PAUSE_S = 0.05
REST = 10
"""Between two pictures so many times as long as it takes to draw one: a slow host draws fewer, and boards do not wait."""


class Showing:
    """Draws pictures for a noticeboard. `log` takes sentences for the person at the keyboard."""

    def __init__(self, board: Noticeboard, outlets: Iterable[Outlet], log: Callable[[str], None]) -> None:
        self._board = board
        self._outlets = list(outlets)
        self._log = log
        self._outcomes: deque[Mapping[str, Any]] = deque(maxlen=KEPT_OUTCOMES)
        self._troubles: tuple[str, ...] = ()
        self._unkept: Mapping[str, Any] | None = None
        self._is_stale = True
        self._next_at = 0.0

    def wait_s(self, now_s: float) -> float | None:
        """How long until a picture is to be drawn; None when nothing has changed."""
        return max(0.0, self._next_at - now_s) if self._is_stale else None

    def remember(self, said: Sequence[Outcome]) -> None:
        """Take outcomes of before: shown, and handed to nobody."""
        self._outcomes.extend(outcome.as_dict() for outcome in said[-KEPT_OUTCOMES:])

    def hear(self, said: Sequence[Outcome]) -> None:
        """Take what has been said, and hand it on."""
        self._is_stale = True
        for outcome in said:
            if outcome.n == 1:
                self._outcomes.clear()
            row = outcome.as_dict()
            self._outcomes.append(row)
            for outlet in list(self._outlets):
                self._hand(outlet, row)

    def note(self, troubles: Sequence[str], unkept: Mapping[str, Any] | None) -> None:
        """Take what keeps the service from working as it should, and what is not on the disk; logged when it comes up."""
        if unkept is not None and (self._unkept is None or self._unkept["goes_on"] != unkept["goes_on"]):
            goes_on = "The picture goes on." if unkept["goes_on"] else "The picture stands still."
            self._log(f"Not kept since {unkept['since']}: {unkept['why']}. {goes_on} {unkept['do']}")
        self._is_stale = self._is_stale or unkept != self._unkept
        self._unkept = unkept
        found = tuple(dict.fromkeys(troubles))
        for trouble in found:
            if trouble not in self._troubles:
                self._log(trouble)
        self._is_stale = self._is_stale or found != self._troubles
        self._troubles = found

    def draw(self, view: Callable[[], dict[str, Any]], now_s: float) -> None:
        """Draw a picture where one is due."""
        if not self._is_stale or now_s < self._next_at:
            return
        self._is_stale, began_s = False, time.thread_time()
        try:
            snapshot = view()
        except Exception as error:
            self._log(f"The picture could not be drawn: {type(error).__name__}: {error}")
            return
        finally:
            self._next_at = now_s + max(SHORTEST_PAUSE_S, REST * (time.thread_time() - began_s))
        snapshot["troubles"] = list(self._troubles)
        snapshot["unkept"] = self._unkept
        self._board.put_up(Shown(self._board.latest().version + 1, snapshot, tuple(self._outcomes)))

    def _hand(self, outlet: Outlet, row: Mapping[str, Any]) -> None:
        try:
            outlet(row)
        except Exception as error:
            self._outlets.remove(outlet)
            self._log(f"Outcomes are no longer handed on, as that failed: {type(error).__name__}: {error}")


def told_of(unkept: Unkept | None, is_held_up: bool) -> dict[str, Any] | None:
    """What the snapshot says of that which is not on the disk; null where all is."""
    if unkept is None:
        return None
    return {
        "since_t": unkept.since.t,
        "since": clock_of(unkept.since),
        "records": unkept.records,
        "why": unkept.why,
        "do": unkept.do,
        "goes_on": not is_held_up,
    }


def clock_of(moment: Moment) -> str:
    """The time of day here, HH:MM."""
    return time.strftime("%H:%M", time.localtime(moment.wall))
