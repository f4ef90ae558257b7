"""All the pages that look on at one service, and the crossing from the service's thread to theirs.

Rule: the service pays the same for one page or fifty: one subscription, one hand-over that is under way at a time. Nothing
that happens to a page comes back to the service.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress

from bridge.dashboard.door import Door, Shown
from bridge.dashboard.mailbox import Mailbox

LEAST_PACE_S = 0.01
MOST_A_SECOND = 200
"""Pictures to all pages together: each of 30 KB takes the host about a fifth of a millisecond, away from what boards say."""


class Audience:
    """The mailboxes of all open streams. All methods but the subscription's callback run on the event loop."""

    def __init__(self, door: Door) -> None:
        self._door = door
        self._boxes: set[Mailbox] = set()
        self._leave_door: Callable[[], None] | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._lock = threading.Lock()
        self._newest: Shown | None = None
        self._handing_over = False
        self._next_at = 0.0
        self._closed = False

    def __len__(self) -> int:
        return len(self._boxes)

    @property
    def pace_s(self) -> float:
        """Least time between two pictures; longer where many look on."""
        return max(LEAST_PACE_S, len(self._boxes) / MOST_A_SECOND)

    def join(self) -> Mailbox:
        """A mailbox that is filled from now on, and holds the newest picture already.

        Raises whatever the door raises when the service cannot be reached.
        """
        self._loop = asyncio.get_running_loop()
        box = Mailbox()
        if self._closed:
            box.close()
            return box
        if self._leave_door is None:
            self._leave_door = self._door.subscribe(self._arrived)
        self._boxes.add(box)
        try:
            box.put(self._door.latest())
        except BaseException:
            self.leave(box)
            raise
        return box

    def leave(self, box: Mailbox) -> None:
        """Forget a mailbox; with the last one the subscription ends too."""
        self._boxes.discard(box)
        if not self._boxes and self._leave_door is not None:
            leave, self._leave_door = self._leave_door, None
            leave()

    def close(self) -> None:
        """End every stream, so that the server can stop at once."""
        self._closed = True
        for box in self._boxes:
            box.close()

    def _arrived(self, shown: Shown) -> None:
        """Run in the service's thread: note the picture and wake the event loop, unless it is being woken already."""
        with self._lock:
            self._newest = shown
            if self._handing_over or self._loop is None:
                return
            self._handing_over = True
        with suppress(RuntimeError):  # the event loop has ended: nobody looks on any more
            self._loop.call_soon_threadsafe(self._hand_over)

    def _hand_over(self) -> None:
        """Fill all mailboxes at once, so that each picture is written once; not before its time."""
        assert self._loop is not None
        now = self._loop.time()
        if now < self._next_at:
            self._loop.call_at(self._next_at, self._hand_over)
            return
        self._next_at = now + self.pace_s
        with self._lock:
            shown, self._newest, self._handing_over = self._newest, None, False
        if shown is not None:
            for box in self._boxes:
                box.put(shown)
