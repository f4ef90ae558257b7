"""What a store holds, read back: sessions, records, the folder in force.

Rule: what was appended is what is read, in the same order and with the same numbers.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from sqlite_utils import Database

from bridge.core.events import Journalled
from bridge.core.learned import Learned
from bridge.journal.refusals import StoreError
from bridge.journal.store import open_for_reading
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.records import Said

ROWS_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment by both clocks: `t` host seconds on the axis of the store, `wall` unix seconds."""

    t: float
    wall: float


@dataclass(frozen=True, slots=True)
class ClockStep:
    """The time of day was set: at host second `t` it showed unix second `after` where it would have shown `before`.

    `running`: while the service ran; else found at its start, `before` is the last time it had kept, and how long it was
    away is not known.
    """

    t: float
    before: float
    after: float
    running: bool = True


@dataclass(frozen=True, slots=True)
class Delivered:
    """A record that a broker brought under a packet identifier: its line as a store keeps it, and how many came since."""

    packet: int
    line: str
    records_since: int


@dataclass(frozen=True, slots=True)
class Session:
    """One session of a store: its number from 1, the moment of its first line, and how many lines it has.

    `after_end`: an earlier session has ended, so nothing is said before this one's `begin`.
    """

    id: int
    began: Moment
    after_end: bool
    lines: int


class Reader:
    """Reads a store; several may at once, and while a service writes to it.

    Raises StoreError where the store is damaged.
    """

    def __init__(self, db: Database) -> None:
        self._db = db

    @classmethod
    def open(cls, path: Path) -> Reader:
        """Open a store for reading; raises StoreError where it is none."""
        return cls(open_for_reading(path))

    def close(self) -> None:
        """Let go of the store."""
        self._db.close()

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def copy_to(self, other: sqlite3.Connection) -> None:
        """Copy the whole store as it is at this moment into another file. Raises sqlite3.Error."""
        self._db.conn.backup(other)

    @property
    def railway(self) -> str | None:
        """The id of the railway whose store it is; None before its first session."""
        row = self._row("SELECT railway FROM store")
        return None if row is None else str(row[0])

    @property
    def last_moment(self) -> Moment | None:
        """The latest moment that was journalled by both clocks."""
        row = self._row("SELECT t, wall FROM store")
        return None if row is None else Moment(*row)

    def sessions(self) -> tuple[Session, ...]:
        """All sessions, in order."""
        lines = "(SELECT coalesce(max(n), 0) FROM records WHERE session = sessions.id)"
        rows = self._rows(f"SELECT id, t, wall, after_end, {lines} FROM sessions ORDER BY id")
        return tuple(Session(number, Moment(t, wall), bool(after), count) for number, t, wall, after, count in rows)

    def begun(self) -> tuple[int, ...]:
        """The sessions in which an operator has told `begin`, in order."""
        rows = self._rows("SELECT session, line FROM records WHERE line LIKE 'operator%' ORDER BY session, n")
        told = {session: None for session, line in rows if line.lower().split()[1:2] == ["begin"]}
        return tuple(told)

    def said(self, session: int) -> tuple[Said, ...]:
        """What operators have told in a session, in order; found without reading all its lines."""
        rows = self._rows("SELECT t, line FROM records WHERE session = ? AND line LIKE 'operator%' ORDER BY n", (session,))
        records = read_capture(f"{t:.6f} {line}" for t, line in rows)
        return tuple(record for record in records if isinstance(record, Said))

    def folder(self, session: int) -> dict[str, bytes]:
        """The files of the railway folder that were in force for a session, by name."""
        return dict(self._rows("SELECT file, content FROM folders WHERE session = ? ORDER BY file", (session,)))

    def learned(self, session: int) -> Learned | None:
        """What a session began with of what earlier ones had learned; None where that was nothing."""
        if self._row("SELECT 1 FROM sqlite_master WHERE name = 'learned'") is None:
            return None  # a store of before it was kept, opened only to be read
        row = self._row("SELECT text FROM learned WHERE session = ?", (session,))
        try:
            return None if row is None else Learned.from_text(row[0])
        except ValueError as error:
            raise StoreError(
                f"What session {session} began with cannot be read ({error}): the store is damaged. "
                "Go on from a backup of it."
            ) from error

    def lines(self, session: int, up_to: int | None = None) -> Iterator[str]:
        """The lines of a session as those of a capture, without line ends; those that it has now, or up to a number.

        Between two handfuls nothing is held, however slowly they are taken: the writer can go on clearing up behind itself.
        """
        last = up_to if up_to is not None else self._row("SELECT max(n) FROM records WHERE session = ?", (session,))[0] or 0
        sql = "SELECT t, line FROM records WHERE session = ? AND n BETWEEN ? AND ? ORDER BY n"
        for first in range(1, last + 1, ROWS_AT_ONCE):
            for t, line in list(self._rows(sql, (session, first, min(last, first + ROWS_AT_ONCE - 1)))):
                yield f"{t:.6f} {line}"

    def records(self, session: int, up_to: int | None = None) -> Iterator[Journalled]:
        """The records of a session with their journal numbers, as `lines` has them."""
        for n, record in enumerate(read_capture(self.lines(session, up_to)), 1):
            if isinstance(record, CaptureFault):
                raise StoreError(
                    f"Line {record.line_no} of session {session} cannot be read ({record.message} {record.text}): "
                    "the store is damaged. Go on from a backup of it."
                )
            yield Journalled(n, record)

    def last_deadline(self, session: int) -> float | None:
        """The host seconds of the last deadline that passed in a session."""
        row = self._row("SELECT max(t) FROM deadlines WHERE session = ?", (session,))
        return None if row is None else row[0]

    def deadlines(self, session: int) -> tuple[tuple[int, float], ...]:
        """All deadlines of a session: behind which journal number each passed, and its host seconds."""
        rows = self._rows("SELECT after_n, t FROM deadlines WHERE session = ? ORDER BY id", (session,))
        return tuple((after_n, t) for after_n, t in rows)

    def clock_steps(self, session: int) -> tuple[tuple[int, ClockStep], ...]:
        """Where the time of day was set in a session, each with the journal number behind which it was noticed."""
        if self._row("SELECT 1 FROM sqlite_master WHERE name = 'clock_steps'") is None:
            return ()  # a store of before they were kept, opened only to be read
        sql = 'SELECT after_n, t, "before", "after", running FROM clock_steps WHERE session = ? ORDER BY id'
        rows = self._rows(sql, (session,))
        return tuple((after_n, ClockStep(t, before, after, bool(running))) for after_n, t, before, after, running in rows)

    def deliveries(self, most_since: int) -> tuple[Delivered, ...]:
        """What a broker that goes on counting has brought without a number, of the last `most_since` records, in order."""
        if self._row("SELECT 1 FROM sqlite_master WHERE name = 'deliveries'") is None:
            return ()  # a store of before they were kept, opened only to be read
        anew = "(SELECT coalesce(max(rowid), 0) FROM deliveries WHERE packet = 0)"
        sql = (
            "SELECT packet, line, last - records.rowid FROM (SELECT max(rowid) AS last FROM records) "
            "CROSS JOIN deliveries JOIN records USING (session, n) "
            f"WHERE deliveries.rowid > {anew} AND records.rowid > last - ? ORDER BY deliveries.rowid"
        )
        return tuple(Delivered(*row) for row in self._rows(sql, (most_since,)))

    def last_lines(self, session: int, most: int) -> Iterator[str]:
        """The lines of a session without their seconds, the last `most` of them, newest first."""
        rows = self._rows("SELECT line FROM records WHERE session = ? ORDER BY n DESC LIMIT ?", (session, most))
        return (line for (line,) in rows)

    def _row(self, sql: str, values: Sequence[Any] = ()) -> Any:
        return next(self._rows(sql, values), None)

    def _rows(self, sql: str, values: Sequence[Any] = ()) -> Iterator[Any]:
        try:
            cursor = self._db.conn.execute(sql, tuple(values))
            while rows := cursor.fetchmany(ROWS_AT_ONCE):
                yield from rows
        except sqlite3.DatabaseError as error:
            raise StoreError(f"The store cannot be read: {error}. Go on from a backup of it.") from error
