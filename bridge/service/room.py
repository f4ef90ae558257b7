"""How much room is left for the journal, said before there is none.

Rule: measured, never guessed: for how long the room lasts is told only once this run has shown how fast the store grows. The
sentence is changed where its figures have changed by much, so that nobody reads the same thing every ten seconds.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

LOOK_EVERY_S = 10.0
LITTLE_BYTES = 500_000_000
LITTLE_SHARE = 0.05
ENOUGH_AGAIN = 1.05
MUCH = 0.1
LEAST_MEASURED_S = 120.0

Usage = tuple[int, int]
"""Bytes of the whole file system, and those that are free."""


def usage_of(place: Path) -> Usage:
    """How full the disk is that holds a folder. Raises OSError."""
    total, _, free = shutil.disk_usage(place)
    return total, free


class Room:
    """Looks after the disk that holds a store; `usage` reads it. Times are seconds of a clock that does not run back."""

    def __init__(self, store: Path, now_s: float, usage: Callable[[Path], Usage] = usage_of) -> None:
        self._store = store
        self._usage = usage
        self._look_at = now_s
        self._began_s = now_s
        self._began_bytes = self._size()
        self._said_free: int | None = None
        self._notices: tuple[str, ...] = ()

    def notices(self, now_s: float) -> tuple[str, ...]:
        """What is to be said of the room that is left; looked at every ten seconds."""
        if now_s >= self._look_at:
            self._look_at = now_s + LOOK_EVERY_S
            self._look(now_s)
        return self._notices

    def _look(self, now_s: float) -> None:
        try:
            total, free = self._usage(self._store.parent)
        except OSError:  # the disk is gone: that is said where it is written to
            self._said_free, self._notices = None, ()
            return
        little = min(LITTLE_BYTES, LITTLE_SHARE * total)
        if free >= little * (1.0 if self._said_free is None else ENOUGH_AGAIN):
            self._said_free, self._notices = None, ()
        elif self._said_free is None or abs(free - self._said_free) > MUCH * self._said_free:
            self._said_free, self._notices = free, (self._sentence(free, now_s),)

    def _sentence(self, free: int, now_s: float) -> str:
        passed_s, grown = now_s - self._began_s, self._size() - self._began_bytes
        lasts = ""
        if passed_s >= LEAST_MEASURED_S and grown > 0:
            hours = free / (grown / passed_s) / 3600
            lasts = ", less than an hour as it grows now" if hours < 1 else f", about {hours:,.0f} hours as it grows now"
        left = f"{free / 1e6:,.0f} MB" if free < 1e9 else f"{free / 1e9:,.1f} GB"
        return f"Little room is left for the journal: {left}{lasts}. Make room on the disk that holds {self._store}."

    def _size(self) -> int:
        return sum(_size_of(path) for path in (self._store, self._store.with_name(f"{self._store.name}-wal")))


def _size_of(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0
