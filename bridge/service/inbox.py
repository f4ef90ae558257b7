"""The one way in: what links bring and what operators tell, in the order in which it came.

Rule: it holds a bounded number. A full inbox holds links back, so that brokers and boards keep what the journal cannot take;
an operator is told so at once.
"""

from __future__ import annotations

import queue
import time
from concurrent.futures import Future, InvalidStateError
from contextlib import suppress
from dataclasses import dataclass

from bridge.dashboard import Answer
from bridge.links.link import Arrival
from bridge.wire.records import Said

MOST_WAITING = 2_000
MOST_RECORDS = 500
LONGEST_GATHERING_S = 0.02


@dataclass(frozen=True, slots=True)
class Telling:
    """What an operator tells through the page, and where the answer is waited for."""

    said: Said
    answer: Future[Answer]

    @property
    def came_t(self) -> float:
        """The host second at which it came."""
        return self.said.t

    def reply(self, answer: Answer) -> None:
        """Answer, where somebody still waits."""
        with suppress(InvalidStateError):
            self.answer.set_result(answer)


Item = Arrival | Telling


class Inbox:
    """Filled from any thread, emptied by the loop."""

    def __init__(self, most_waiting: int = MOST_WAITING) -> None:
        self._queue: queue.Queue[Item] = queue.Queue(most_waiting)
        self._is_closed = False

    def put(self, arrival: Arrival) -> None:
        """Take what a link brings; waits while the inbox is full. Once it is closed nothing is taken, or acknowledged."""
        while not self._is_closed:
            try:
                self._queue.put(arrival, timeout=0.2)
            except queue.Full:
                continue
            return

    def offer(self, telling: Telling) -> bool:
        """Take what an operator tells; False where there is no room."""
        try:
            self._queue.put_nowait(telling)
        except queue.Full:
            return False
        return not self._is_closed

    def gather(self, timeout_s: float) -> list[Item]:
        """What has come, waiting `timeout_s` at most for the first; nothing is waited for behind it.

        So a lone report is journalled at once, and a flood in batches of at most 500 records or 20 ms.
        """
        try:
            items = [self._queue.get(timeout=timeout_s) if timeout_s > 0 else self._queue.get_nowait()]
        except queue.Empty:
            return []
        records = _count(items[0])
        until = time.monotonic() + LONGEST_GATHERING_S
        with suppress(queue.Empty):
            while records < MOST_RECORDS and time.monotonic() < until:
                items.append(self._queue.get_nowait())
                records += _count(items[-1])
        return items

    def close(self) -> None:
        """Take nothing more."""
        self._is_closed = True


def _count(item: Item) -> int:
    return 1 if isinstance(item, Telling) else len(item.records)
