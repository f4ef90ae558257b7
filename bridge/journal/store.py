"""Opening a store, and refusing what is none: the one place that knows how our SQLite files are recognised.

Rule: a file that is not ours is never written to. What is wrong is a `StoreError` in plain words with a remedy.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlite_utils import Database

from bridge.journal.schema import APPLICATION_ID, MIGRATIONS

BUSY_S = 5.0


class StoreError(Exception):
    """A store that cannot be used: the message says why, and what to do."""


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
        db.conn.execute("PRAGMA synchronous = FULL")
        MIGRATIONS.apply(db)
    except sqlite3.Error as error:
        db.close()
        raise StoreError(f"The store {path} cannot be written: {error}. Name another with --store.") from error
    except StoreError:
        db.close()
        raise
    return db


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
            f"The store {path} cannot be opened: {error}. Are it and its folder yours to read and write?"
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
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    try:
        return Database(sqlite3.connect(uri, uri=True, timeout=BUSY_S, check_same_thread=False))
    except sqlite3.Error as error:
        raise StoreError(f"The store {path} cannot be opened: {error}. Is it yours to read and write?") from error


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
            raise StoreError(f"Nothing can be written beside {store}: {error}. Name another store with --store.") from error
        try:
            self._held.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            self._held.close()
            raise StoreError(f"Another Numbertaker is writing to {store}: stop that one first.") from error

    def release(self) -> None:
        """Let another writer in."""
        self._path.unlink(missing_ok=True)
        self._held.close()
