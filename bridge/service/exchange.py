"""All links as one: started, spoken to, told what is on the disk, stopped.

Rule: what goes wrong in a link is the link's own: it is logged and never ends the loop. What a link has brought is
acknowledged to it once, when the loop says that all is kept, and not before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from threading import Thread

from bridge.links.health import Order
from bridge.links.link import Arrival, Inbox, Link
from bridge.service.inbox import Item

LINKS_STOP_S = 1.0
MOST_UNACKNOWLEDGED = 50_000
"""Fewer than a link lets its broker be owed: beyond that the broker sends nothing, and boards would seem lost."""


class Exchange:
    """The ways to boards, and what is owed to them. For the loop's thread; `is_owed_too_much` for any."""

    def __init__(self, links: Sequence[Link], log: Callable[[str], None]) -> None:
        self._links = links
        self._log = log
        self._owed: list[Callable[[], None]] = []
        self._stopping: list[Thread] = []
        self._stop_until = 0.0

    def start(self, inbox: Inbox) -> None:
        """Have every link bring what comes into `inbox`."""
        for link in self._links:
            link.start(inbox)

    def send(self, orders: Iterable[Order]) -> None:
        """Say each line to its board, by the first link that knows it; a board that nobody knows is not told."""
        for board, line in orders:
            try:
                any(link.send(board, line) for link in self._links)
            except Exception as error:
                self._log(f"Board {board} could not be asked: {type(error).__name__}: {error}")

    def owe(self, items: Iterable[Item]) -> None:
        """Remember what of these wants to be acknowledged."""
        self._owed += [item.done for item in items if isinstance(item, Arrival) and item.done is not None]

    def is_owed_too_much(self) -> bool:
        """Whether so much is unacknowledged that nothing more may be taken."""
        return len(self._owed) >= MOST_UNACKNOWLEDGED

    def acknowledge(self) -> None:
        """Tell links that what they brought is on the disk."""
        owed, self._owed = self._owed, []
        for done in owed:
            try:
                done()
            except Exception as error:  # the link's own: what is not acknowledged comes again, and counts once
                self._log(f"A message could not be acknowledged: {type(error).__name__}: {error}")

    def troubles(self) -> list[str]:
        """What keeps links from working, in plain words."""
        return [trouble for link in self._links for trouble in link.troubles()]

    def stop(self) -> None:
        """Have every link stop, each on a thread of its own; again it does nothing."""
        links, self._links = self._links, ()
        for link in links:
            thread = Thread(target=link.stop, name=f"stop {link.name}", daemon=True)
            thread.start()
            self._stopping.append(thread)
        self._stop_until = time.monotonic() + LINKS_STOP_S

    def is_stopping(self) -> bool:
        """Whether a link may still bring something while it stops; it is not waited for longer than a second."""
        return any(thread.is_alive() for thread in self._stopping) and time.monotonic() < self._stop_until
