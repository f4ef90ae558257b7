"""Where one page's next picture waits until its line can take it.

Rule: it holds one picture, the newest. However slow a phone is, it costs the host one reference, and what it gets when it
wakes is the present and not the past.
"""

from __future__ import annotations

import asyncio

from bridge.dashboard.door import Shown


class Mailbox:
    """A mailbox for one picture. Used on the dashboard's event loop only."""

    def __init__(self) -> None:
        self._waiting: Shown | None = None
        self._filled = asyncio.Event()
        self._newest = -1
        self.closed = False

    def put(self, shown: Shown) -> None:
        """Lay a picture in, in place of an older one; one that is not newer than all before is dropped."""
        if shown.version > self._newest:
            self._newest = shown.version
            self._waiting = shown
            self._filled.set()

    def close(self) -> None:
        """No more pictures: whoever waits is woken."""
        self.closed = True
        self._filled.set()

    async def take(self, timeout_s: float) -> Shown | None:
        """The picture waiting, or the next one within `timeout_s` seconds; None when none came or the box is closed."""
        if not self._filled.is_set():
            try:
                await asyncio.wait_for(self._filled.wait(), timeout_s)
            except TimeoutError:
                return None
        if not self.closed:
            self._filled.clear()
        shown, self._waiting = self._waiting, None
        return shown
