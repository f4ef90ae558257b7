"""Opening a store, and refusing what is none: the one place that knows how our SQLite files are recognised.

Rule: a file that is not ours is never written to. What is wrong is a `StoreError` in plain words with a remedy.
"""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path

from sqlite_utils import Database

from bridge.journal.refusals import StoreError, in_words
from bridge.journal.schema import APPLICATION_ID, MIGRATIONS

_ANOTHER = "Name another with --store."
BUSY_S = 5.0
WRITER_BUSY_MS = 500
"""How long an append waits for another program that holds the store: the live picture waits with it."""

MOST_LEFT_BYTES = 4 * 1024 * 1024
"""What the file beside the store keeps of its size once all of it is in the store (https://sqlite.org/wal.html, 6)."""


def open_for_reading(path: Path) -> Database:
    """A store opened so that nothing in it can change, also while a service writes to it.

    Raises StoreError where there is none, where the file is no store, or one of a newer version.
    """
    if not path.is_file():
        raise StoreError(f"There is no store {path}. `numbertaker run FOLDER` makes one and says where it is.")
    db = _connected(path, "ro")
    try:
        if not is_store(db, path):
            raise StoreError(f"{path} is empty: nothing has been journalled in it yet.")
    except StoreError:
        db.close()
        raise
    return db


def open_for_writing(path: Path) -> Database:
    """A store opened for its one writer; made where there is none, brought up to date where it is of an older version.

    Every commit is on the disk when it returns. Raises StoreError as `open_for_reading` does, or where it cannot be written.
    """
    db = _connected(path, "rwc")
    try:
        is_store(db, path)
        db.enable_wal()
        MIGRATIONS.apply(db)
        _make_safe(db)
    except sqlite3.Error as error:
        db.close()
        raise StoreError(f"The store {path} cannot be written: {in_words(path, error, _ANOTHER)}") from error
    except StoreError:
        db.close()
        raise
    return db


def open_again(path: Path) -> Database:
    """A store opened anew by its writer, after the disk failed it: found, never made. Raises sqlite3.Error."""
    db = Database(sqlite3.connect(_uri(path, "rw"), uri=True, timeout=WRITER_BUSY_MS / 1000, check_same_thread=False))
    try:
        _make_safe(db)
    except sqlite3.Error:
        db.close()
        raise
    return db


def _make_safe(db: Database) -> None:
    """Each commit is on the disk when it returns; nobody is waited for long."""
    db.conn.execute("PRAGMA synchronous = FULL")
    db.conn.execute(f"PRAGMA busy_timeout = {WRITER_BUSY_MS}")
    db.conn.execute(f"PRAGMA journal_size_limit = {MOST_LEFT_BYTES}")


def is_store(db: Database, path: Path) -> bool:
    """True for a store of ours, False for an empty file; StoreError for anything else."""
    try:
        mark = db.conn.execute("PRAGMA application_id").fetchone()[0]
        tables = db.conn.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if mark == 0 and tables == 0:
            return False
        known = {migration.name for migration in MIGRATIONS.applied(db)} if mark == APPLICATION_ID else set()
    except sqlite3.OperationalError as error:
        raise StoreError(
            f"The store {path} cannot be opened: {in_words(path, error, 'Are it and its folder yours to read and write?')}"
        ) from error
    except sqlite3.DatabaseError as error:
        raise StoreError(f"{path} is no store of Numbertaker, or it is damaged: {error}. Name another file.") from error
    if mark != APPLICATION_ID:
        raise StoreError(f"{path} is a database of something else, no store of Numbertaker. Name another file.")
    newer = known - {migration.name for migration in MIGRATIONS.pending(Database(memory=True))}
    if newer:
        raise StoreError(f"{path} was made by a newer Numbertaker ({', '.join(sorted(newer))}). Install that one to use it.")
    return True


def _connected(path: Path, mode: str) -> Database:
    try:
        return Database(sqlite3.connect(_uri(path, mode), uri=True, timeout=BUSY_S, check_same_thread=False))
    except sqlite3.Error as error:
        raise StoreError(f"The store {path} cannot be opened: {error}. Is it yours to read and write?") from error


def _uri(path: Path, mode: str) -> str:
    return f"{path.absolute().as_uri()}?mode={mode}"


class WriterLock:
    """Keeps a second service away from a store; let go of by the system whatever ends the process.

    Readers are not held up: the lock is that of a file beside the store, `STORE-writer`.
    """

    def __init__(self, store: Path) -> None:
        if not store.parent.is_dir():
            raise StoreError(
                f"There is no folder {store.parent} to keep the store in. Make it, or name another with --store."
            )
        self._path = store.with_name(f"{store.name}-writer")
        try:
            self._held = sqlite3.connect(self._path, isolation_level=None, timeout=0, check_same_thread=False)
        except sqlite3.Error as error:
            raise StoreError(f"Nothing can be written beside {store}: {in_words(store, error, _ANOTHER)}") from error
        try:
            self._held.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            self._held.close()
            if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY:
                raise StoreError(f"Another Numbertaker is writing to {store}: stop that one first.") from error
            raise StoreError(f"Nothing can be written beside {store}: {in_words(store, error, _ANOTHER)}") from error
        self._place = _place_of(self._path)

    @property
    def is_in_place(self) -> bool:
        """Whether the file that is locked is the one beside the store: another disk may be there by now."""
        return _place_of(self._path) == self._place

    def release(self) -> None:
        """Let another writer in."""
        if self.is_in_place:
            with suppress(OSError):  # on a disk that is read-only by now; a file left behind locks nobody out
                self._path.unlink(missing_ok=True)
        self._held.close()


def _place_of(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
