"""A whole service in this process whose clock the trial turns: while its loop waits, the railway goes on.

Rule: the service is the real one, with its real store; only the clocks, and what lies beyond its links, are put in place.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Protocol

from bridge.folder import FolderRead
from bridge.links.link import Arrival
from bridge.links.link import Inbox as TakeIn
from bridge.service.core import CORE
from bridge.service.inbox import Inbox, Item
from bridge.service.loop import Service
from bridge.service.resuming import Resumed, take_up
from bridge.service.showing import Outlet
from bridge.wire.lines import HostLine

BATCH_S = 0.5
"""What comes within so many seconds is taken together, as by a loop that was busy for so long."""

BEGAN_WALL = 1_700_000_000.0


class Clock:
    """The seconds of the trial, turned by hand, and a time of day that may be set."""

    def __init__(self) -> None:
        self.t = 0.0
        self.wall_shift_s = 0.0

    def monotonic(self) -> float:
        return self.t

    def wall(self) -> float:
        return BEGAN_WALL + self.t + self.wall_shift_s


class Beyond(Protocol):
    """What lies beyond the links."""

    def turn(self, until_t: float) -> bool:
        """Let the next thing happen, where it happens by `until_t` (seconds of the clock); whether it did."""

    def heard(self, board: str, line: HostLine) -> None:
        """The host has sent a line."""


class Soon:
    """Things to do at seconds of the clock."""

    def __init__(self) -> None:
        self._due: list[tuple[float, int, Callable[[], None]]] = []
        self._count = count()

    @property
    def next_t(self) -> float:
        return self._due[0][0] if self._due else float("inf")

    def at(self, t: float, do: Callable[[], None]) -> None:
        heapq.heappush(self._due, (t, next(self._count), do))

    def step(self) -> None:
        heapq.heappop(self._due)[2]()


class HandLink:
    """One link for all there is: what is beyond brings records in, what the service sends goes out to it."""

    name = "hand"

    def __init__(self, beyond: Beyond) -> None:
        self._beyond = beyond
        self._take_in: TakeIn | None = None

    def start(self, inbox: TakeIn) -> None:
        self._take_in = inbox

    def stop(self) -> None:
        self._take_in = None

    def bring(self, arrival: Arrival) -> bool:
        """Hand records in; False where nobody listens."""
        if self._take_in is None:
            return False
        self._take_in(arrival)
        return True

    def send(self, board: str, line: HostLine) -> bool:
        self._beyond.heard(board, line)
        return True

    def troubles(self) -> tuple[str, ...]:
        return ()


class _TurningInbox(Inbox):
    """While the loop waits here, the clock goes on to what happens next."""

    def __init__(self, clock: Clock, beyond: Beyond) -> None:
        super().__init__(1_000_000)
        self._clock, self._beyond = clock, beyond

    def gather(self, timeout_s: float) -> list[Item]:
        found = super().gather(0)
        if found or self._is_closed:
            return found
        until_t = self._clock.t + BATCH_S
        while self._beyond.turn(until_t) and self._queue.qsize() < 500:
            pass
        return super().gather(0)


class Turned:
    """A service on a store, to be run in this thread; `run` returns when it has been stopped."""

    def __init__(
        self, store: Path, folder: FolderRead, clock: Clock, beyond: Beyond, outlet: Outlet, log: Callable[[str], None]
    ) -> None:
        self.resumed: Resumed = take_up(
            store, folder, CORE, folder_again=lambda: folder, monotonic=clock.monotonic, wall=clock.wall
        )
        self.link = HandLink(beyond)
        self.service = Service(self.resumed, [self.link], CORE, [outlet], log)
        self.service.inbox = _TurningInbox(clock, beyond)

    def run(self) -> None:
        self.service.run()
