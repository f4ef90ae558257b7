"""The one writer of a store: records appended in order, each append on the disk before it returns.

Rule: append first, then fold, then show. An append is kept whole or not at all; one that failed can be tried again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bridge.journal.reading import Moment, Reader
from bridge.journal.store import StoreError, WriterLock, open_for_writing
from bridge.wire.capture import format_record
from bridge.wire.records import Record


class NotWrittenError(Exception):
    """An append that the disk did not take; nothing of it was kept, and it may be tried again."""


@dataclass(frozen=True, slots=True)
class Opening:
    """What a session is opened with: the files of the railway folder in force, and whether an earlier session has ended."""

    folder: Mapping[str, bytes]
    after_end: bool


@dataclass(frozen=True, slots=True)
class Page:
    """What is to be added to one session at a time: records with the numbers from `first_n`, and deadlines that passed.

    A deadline is given as the journal number behind which it stands, and its host seconds. `opens` goes with the first
    record of a session, and with no other.
    """

    session: int
    first_n: int
    records: Sequence[Record] = ()
    deadlines: Sequence[tuple[int, float]] = ()
    opens: Opening | None = None


class Journal:
    """A store opened by its one writer, for one railway."""

    def __init__(self, path: Path, railway: str) -> None:
        """Open or make the store of a railway (its id). Raises StoreError where that cannot be, or it is another's."""
        self.path = path
        self._railway = railway
        self._is_open = True
        self._lock = WriterLock(path)
        try:
            self._db = open_for_writing(path)
        except StoreError:
            self._lock.release()
            raise
        self.reader = Reader(self._db)
        kept = self.reader.railway
        if kept not in (None, railway):
            self.close()
            raise StoreError(f"{path} belongs to the railway {kept}, not to {railway}. Name another store with --store.")

    def close(self) -> None:
        """Let go of the store; all that was appended is in it. May be called twice."""
        if self._is_open:
            self._is_open = False
            self._db.close()
            self._lock.release()

    def append(self, page: Page, now: Moment) -> None:
        """Add what stands on a page, all of it or nothing; on the disk when this returns.

        `now` is the reading of both clocks. Raises NotWrittenError where the disk did not take it, StoreError where the
        file is damaged.
        """
        try:
            with self._db.atomic():
                self._write(page, now)
        except sqlite3.OperationalError as error:
            raise NotWrittenError(f"{self.path}: {error}") from error
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.IntegrityError):
                raise  # an error of the program, not of the file
            raise StoreError(f"The store {self.path} is damaged: {error}. Go on from a backup of it.") from error

    def _write(self, page: Page, now: Moment) -> None:
        conn, session = self._db.conn, page.session
        if page.opens is not None:
            first = (session, page.records[0].t, now.wall, int(page.opens.after_end))
            conn.execute("INSERT INTO sessions VALUES (?, ?, ?, ?)", first)
            files = [(session, name, content) for name, content in page.opens.folder.items()]
            conn.executemany("INSERT INTO folders VALUES (?, ?, ?)", files)
        rows = [(session, n, record.t, _without_seconds(record)) for n, record in enumerate(page.records, page.first_n)]
        conn.executemany("INSERT INTO records VALUES (?, ?, ?, ?)", rows)
        passed = [(session, after_n, t) for after_n, t in page.deadlines]
        conn.executemany("INSERT INTO deadlines (session, after_n, t) VALUES (?, ?, ?)", passed)
        clocks = (self._railway, now.t, now.wall)
        conn.execute("INSERT OR REPLACE INTO store VALUES (1, ?, ?, ?)", clocks)


def _without_seconds(record: Record) -> str:
    return format_record(record).partition(" ")[2]
