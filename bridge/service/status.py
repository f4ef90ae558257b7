"""How the loop itself fares: counted as it goes, for whoever supervises it.

Rule: the loop alone writes here, at the cost of a few additions a record; others read whenever they like, and are never
waited for. Nothing of the railway depends on it.
"""

from __future__ import annotations

import time
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from pathlib import Path
from shutil import disk_usage
from typing import Any

from bridge.dashboard import Commits, Fitness
from bridge.journal import Journal, Moment, Page
from bridge.wire.records import Closed, Opened, Received, Record, Rejected

BOUNDS_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)


class TimedJournal(Journal):
    """A journal that counts its commits and how long each took."""

    def __init__(self, path: Path, railway: str) -> None:
        """Raises as `Journal` does."""
        super().__init__(path, railway)
        self._counts = [0] * (len(BOUNDS_S) + 1)
        self._seconds = 0.0
        self._last_s: float | None = None

    def append(self, page: Page, now: Moment) -> None:
        """As `Journal` does; one that failed does not count."""
        began_s = time.perf_counter()
        super().append(page, now)
        took_s = time.perf_counter() - began_s
        self._counts[bisect_left(BOUNDS_S, took_s)] += 1
        self._seconds += took_s
        self._last_s = time.monotonic()

    @property
    def commits(self) -> Commits:
        """The commits so far."""
        age_s = None if self._last_s is None else time.monotonic() - self._last_s
        return Commits(tuple(zip((*BOUNDS_S, float("inf")), self._counts, strict=True)), self._seconds, age_s)


class Status:
    """What the loop has done since it began."""

    def __init__(self, journal: TimedJournal) -> None:
        self._journal = journal
        self._turns = 0
        self._turned_s = time.monotonic()
        self._records = 0
        self._unkept = 0
        self._free_bytes: int | None = None
        self._lines: dict[str, int] = {}
        self._rejects: dict[tuple[str, str], int] = {}
        self._links: dict[str, bool] = {}

    def took(self, records: Iterable[Record]) -> None:
        """Records were taken."""
        for record in records:
            self._records += 1
            if isinstance(record, Received):
                self._lines[record.link] = self._lines.get(record.link, 0) + 1
            elif isinstance(record, Rejected):
                key = (record.link, record.reason)
                self._rejects[key] = self._rejects.get(key, 0) + 1
            elif isinstance(record, Opened | Closed):
                self._links[record.link] = isinstance(record, Opened)

    def turned(self) -> None:
        """A turn of the loop is done."""
        self._turns += 1
        self._turned_s = time.monotonic()

    def looked(self, unkept: int) -> None:
        """The loop has looked around: so many records are not on the disk."""
        self._unkept = unkept
        try:
            self._free_bytes = disk_usage(self._journal.path.parent).free
        except OSError:  # the disk is gone, or does not tell
            self._free_bytes = None

    def fitness(self) -> Fitness:
        """All of it, as of now; from any thread."""
        return Fitness(
            loop_age_s=time.monotonic() - self._turned_s,
            turns=self._turns,
            records=self._records,
            unkept=self._unkept,
            free_bytes=self._free_bytes,
            commits=self._journal.commits,
            lines=self._lines.copy(),
            rejects=self._rejects.copy(),
            links=self._links.copy(),
        )


def in_short(snapshot: Mapping[str, Any]) -> str:
    """One line on how things are, for a supervisor's list."""
    boards = [board["state"] for board in snapshot.get("boards", ())]
    heard, lost = boards.count("heard"), boards.count("lost")
    session = snapshot.get("session", {})
    clock = f" {session['clock']}" if session.get("clock") else ""
    parts = [f"Session {session.get('state', 'waiting')}{clock[:6]}", f"boards heard {heard} of {len(boards)}"]
    if lost:
        parts.append(f"lost {lost}")
    if troubles := snapshot.get("troubles"):
        parts.append(f"troubles {len(troubles)}: {troubles[0]}")
    return ", ".join(parts)
