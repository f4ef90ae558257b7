"""The one writer of a store: records appended in order, each append on the disk before it returns.

Rule: an append is kept whole or not at all; one that failed can be tried again, as it was. Where the disk itself failed the
store is opened anew before that: it has to be the one that was left, and what it holds already is not written twice.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from bridge.core.learned import Learned
from bridge.journal.reading import ClockStep, Moment, Reader
from bridge.journal.refusals import NotWrittenError, StoreError, leaves_doubt, refusal
from bridge.journal.schema import APPLICATION_ID
from bridge.journal.store import WriterLock, open_again, open_for_writing
from bridge.wire.capture import format_record
from bridge.wire.records import Record


@dataclass(frozen=True, slots=True)
class Opening:
    """What a session is opened with: the files of the railway folder in force, whether an earlier session has ended, and
    what earlier ones have learned."""

    folder: Mapping[str, bytes]
    after_end: bool
    known: Learned | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """What is to be added to one session at a time: records with the numbers from `first_n`, and deadlines that passed.

    A deadline is given as the journal number behind which it stands, and its host seconds. `opens` goes with the first
    record of a session, and with no other. `steps`: where the time of day was set before what stands on this page.
    `deliveries`: journal numbers of records on it that a broker brought and that have none of their own, each with the
    packet identifier; 0 where the broker counts anew.
    """

    session: int
    first_n: int
    records: Sequence[Record] = ()
    deadlines: Sequence[tuple[int, float]] = ()
    opens: Opening | None = None
    steps: Sequence[ClockStep] = ()
    deliveries: Sequence[tuple[int, int]] = ()


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
        self._is_in_doubt = False
        self.reader = Reader(self._db)
        kept = self.reader.railway
        if kept not in (None, railway):
            self.close()
            raise StoreError(f"{path} belongs to the railway {kept}, not to {railway}. Name another store with --store.")
        try:
            self._end = _end_of(self._db)
        except sqlite3.Error as error:
            self.close()
            raise StoreError(f"The store {path} cannot be read: {error}. Go on from a backup of it.") from error

    def close(self) -> None:
        """Let go of the store; all that was appended is in it. May be called twice."""
        if self._is_open:
            self._is_open = False
            self._db.close()
            self._lock.release()

    def append(self, page: Page, now: Moment) -> None:
        """Add what stands on a page, all of it or nothing; on the disk when this returns.

        `now` is the reading of both clocks. Raises NotWrittenError where the disk did not take it, StoreError where the
        file is damaged. After the first the same page is to be tried again, and no other.
        """
        try:
            if self._is_in_doubt and self._find_again(page):
                return
            with self._db.atomic():
                self._write(page, now)
        except sqlite3.Error as error:
            self._is_in_doubt = self._is_in_doubt or leaves_doubt(error)
            raise refusal(self.path, error) from error
        self._end = _end_behind(page, self._end)

    def _find_again(self, page: Page) -> bool:
        """Open the store anew; whether it holds the page already: a commit may have been taken though it failed."""
        with suppress(sqlite3.Error):
            self._db.close()
        db = open_again(self.path)
        try:
            end = _end_of(db)
            if end not in (self._end, _end_behind(page, self._end)):
                raise NotWrittenError(f"{self.path} is not as it was left", *_ANOTHER)
            self._lock_again()
        except BaseException:
            db.close()
            raise
        self._db, self.reader, self._is_in_doubt = db, Reader(db), False
        is_there = end != self._end
        self._end = end
        return is_there

    def _lock_again(self) -> None:
        if self._lock.is_in_place:
            return
        try:
            lock = WriterLock(self.path)
        except StoreError as error:
            raise NotWrittenError(str(error), "the store cannot be locked", "Stop whatever else uses it.") from error
        self._lock.release()
        self._lock = lock

    def _write(self, page: Page, now: Moment) -> None:
        conn, session = self._db.conn, page.session
        if page.opens is not None:
            first = (session, page.records[0].t, now.wall, int(page.opens.after_end))
            conn.execute("INSERT INTO sessions VALUES (?, ?, ?, ?)", first)
            files = [(session, name, content) for name, content in page.opens.folder.items()]
            conn.executemany("INSERT INTO folders VALUES (?, ?, ?)", files)
            if page.opens.known is not None:
                conn.execute("INSERT INTO learned VALUES (?, ?)", (session, page.opens.known.as_text()))
        rows = [(session, n, record.t, line_of(record)) for n, record in enumerate(page.records, page.first_n)]
        conn.executemany("INSERT INTO records VALUES (?, ?, ?, ?)", rows)
        brought = [(session, n, packet) for n, packet in page.deliveries]
        conn.executemany("INSERT INTO deliveries VALUES (?, ?, ?)", brought)
        passed = [(session, after_n, t) for after_n, t in page.deadlines]
        conn.executemany("INSERT INTO deadlines (session, after_n, t) VALUES (?, ?, ?)", passed)
        set_at = [(session, page.first_n - 1, step.t, step.before, step.after, int(step.running)) for step in page.steps]
        conn.executemany(
            'INSERT INTO clock_steps (session, after_n, t, "before", "after", running) VALUES (?, ?, ?, ?, ?, ?)', set_at
        )
        clocks = (self._railway, now.t, now.wall)
        conn.execute("INSERT OR REPLACE INTO store VALUES (1, ?, ?, ?)", clocks)


End = tuple[int, int, int]
"""Where a store ends: its last session, the last journal number in it, the last deadline's row; 0 where there is none."""

_ANOTHER = ("the store that is there is not the one that was left", "Bring back the disk that holds it.")


def _end_of(db: Database) -> End:
    """The end of a store. Raises sqlite3.Error; what is no store ends nowhere."""
    if db.conn.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        return (-1, -1, -1)
    session = db.conn.execute("SELECT coalesce(max(id), 0) FROM sessions").fetchone()[0]
    n = db.conn.execute("SELECT coalesce(max(n), 0) FROM records WHERE session = ?", (session,)).fetchone()[0]
    return session, n, db.conn.execute("SELECT coalesce(max(id), 0) FROM deadlines").fetchone()[0]


def _end_behind(page: Page, end: End) -> End:
    return page.session, page.first_n + len(page.records) - 1, end[2] + len(page.deadlines)


def line_of(record: Record) -> str:
    """A record as a store keeps it: the line of a capture without its seconds."""
    return format_record(record).partition(" ")[2]
