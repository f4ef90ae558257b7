"""What the disk has not taken yet: pages that wait in order, from the first that failed until all are written.

Rule: order is kept, whatever waits. A page that was tried is tried again as it was; behind it pages are put together, so
that an hour's backlog is written in a moment. It is bounded: whoever brings more has to be held back.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.journal import Journal, Moment, NotWrittenError, Page

MOST_UNKEPT = 100_000
AGAIN_AFTER_S = 1.0
LONGEST_WRITING_S = 0.2
"""So long at a time the backlog is written while lines come in."""

MOST_ON_A_PAGE = 2_000


@dataclass(frozen=True, slots=True)
class Unkept:
    """What is shown and not on the disk: since when, how many records, why (half a sentence), and what to do."""

    since: Moment
    records: int
    why: str
    do: str
    is_full: bool


class Backlog:
    """The way to the journal. `now` reads both clocks."""

    def __init__(self, journal: Journal, now: Callable[[], Moment]) -> None:
        self._journal = journal
        self._now = now
        self._waiting: deque[tuple[Page, Moment]] = deque()
        self._records = 0
        self._since: Moment | None = None
        self._error: NotWrittenError | None = None
        self._again_at = 0.0

    @property
    def store(self) -> Path:
        """The file in which the journal is kept."""
        return self._journal.path

    @property
    def unkept(self) -> Unkept | None:
        """What waits; None where all is on the disk."""
        if self._since is None or self._error is None:
            return None
        why, do = self._error.why, self._error.do
        return Unkept(self._since, self._records, why, do, self._records >= MOST_UNKEPT)

    def write(self, page: Page) -> None:
        """Have a page written: now, or behind those that wait. Raises StoreError where the file is damaged."""
        now = self._now()
        if not self._waiting:
            try:
                self._journal.append(page, now)
            except NotWrittenError as error:
                self._since = now
                self._failed(error)
            else:
                return
        self._wait(page, now)

    def catch_up(self, at_once: bool = False) -> None:
        """Try again what waits, every second; `at_once`: now, and all of it. Raises as `write` does."""
        began = time.monotonic()
        if not self._waiting or (began < self._again_at and not at_once):
            return
        while self._waiting and (at_once or time.monotonic() - began < LONGEST_WRITING_S):
            page, moment = self._waiting[0]
            try:
                self._journal.append(page, moment)
            except NotWrittenError as error:
                self._failed(error)
                return
            self._waiting.popleft()
            self._records -= len(page.records)
        if not self._waiting:
            self._since = self._error = None

    def insist(self) -> None:
        """Raises NotWrittenError where anything waits."""
        if self._error is not None:
            raise self._error

    def close(self) -> None:
        """Let go of the journal."""
        self._journal.close()

    def _failed(self, error: NotWrittenError) -> None:
        self._error = error
        self._again_at = time.monotonic() + AGAIN_AFTER_S

    def _wait(self, page: Page, now: Moment) -> None:
        self._records += len(page.records)
        if len(self._waiting) > 1:  # the first has been tried
            last, _ = self._waiting[-1]
            if _can_follow(last, page):
                records, deadlines = [*last.records, *page.records], [*last.deadlines, *page.deadlines]
                brought = [*last.deliveries, *page.deliveries]
                self._waiting[-1] = replace(last, records=records, deadlines=deadlines, deliveries=brought), now
                return
        self._waiting.append((page, now))


def _can_follow(last: Page, page: Page) -> bool:
    """Whether two pages can be one; a session is opened by a page of its own, which tells when it was opened."""
    is_one = last.session == page.session and last.opens is None and page.opens is None
    return is_one and not page.steps and len(last.records) + len(page.records) <= MOST_ON_A_PAGE
