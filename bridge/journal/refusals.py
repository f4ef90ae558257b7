"""What SQLite says when it does not take something, in plain words: whether it may be tried again, and what to do.

Rule: decided by SQLite's own code, never by its wording. A disk that is full, away or read-only is "not now"; a file whose
content is wrong is damage; all else is an error of the program and stays what it is.

The codes and what they mean are those of https://sqlite.org/rescode.html.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

_FULL = ("the disk is full", "Make room on the disk that holds {path}.")
_READ_ONLY = ("the disk is read-only", "Make {path} writable again.")
_SILENT = ("the disk does not work as it should", "Look after the disk that holds {path}.")
_HELD = ("another program holds the store", "Close the program that has {path} open.")

_NOT_NOW: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR: _SILENT,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_BUSY: _HELD,
    sqlite3.SQLITE_LOCKED: _HELD,
    sqlite3.SQLITE_PROTOCOL: _HELD,
    sqlite3.SQLITE_CANTOPEN: ("the store cannot be reached", "Bring back the disk that holds {path}."),
    sqlite3.SQLITE_PERM: ("the store may not be written", "Make {path} yours to write."),
    sqlite3.SQLITE_NOMEM: ("the memory is used up", "Close other programs."),
    sqlite3.SQLITE_IOERR_SHMSIZE: _FULL,  # no room for the file that readers and writer share
}
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_VAGUE = (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
_SOUND = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
"""Refusals behind which the connection is as good as before."""


class StoreError(Exception):
    """A store that cannot be used: the message says why, and what to do."""


class NotWrittenError(Exception):
    """An append that the disk did not take; nothing of it was kept, and it may be tried again.

    `why` is half a sentence for people ("the disk is full"), `do` a sentence on what helps.
    """

    def __init__(self, message: str, why: str = _SILENT[0], do: str = "Look after the disk that holds the store.") -> None:
        super().__init__(message)
        self.why = why
        self.do = do


def refusal(path: Path, error: sqlite3.Error) -> Exception:
    """What to raise for this error: NotWrittenError, StoreError where the file is damaged, else the error itself."""
    code = _code(error)
    said = _NOT_NOW.get(code, _NOT_NOW.get(code & 0xFF))
    if said is not None:
        if code & 0xFF in _VAGUE:
            said = _as_the_disk_says(path) or said
        return NotWrittenError(f"{path}: {error}", said[0], said[1].format(path=path))
    if code & 0xFF in _DAMAGE:
        return StoreError(f"The store {path} is damaged: {error}. Go on from a backup of it.")
    return error


def in_words(path: Path, error: sqlite3.Error, else_do: str) -> str:
    """Why SQLite does not do it, and what helps: as above where that is known, else as SQLite says, and `else_do`."""
    said = refusal(path, error)
    return f"{said.why}. {said.do}" if isinstance(said, NotWrittenError) else f"{error}. {else_do}"


def _as_the_disk_says(path: Path) -> tuple[str, str] | None:
    """What is wrong, where SQLite knows only that the system refused."""
    try:
        disk = os.statvfs(path.parent)
    except (OSError, AttributeError):  # the disk is gone; Windows has no such call
        return None
    if disk.f_flag & os.ST_RDONLY:
        return _READ_ONLY
    return _FULL if disk.f_bavail == 0 else None


def leaves_doubt(error: sqlite3.Error) -> bool:
    """Whether the connection may be of no use any more, so that the store has to be opened again."""
    return _code(error) & 0xFF not in _SOUND


def _code(error: sqlite3.Error) -> int:
    """SQLite's extended code; 0 for what Python's module raises by itself."""
    return getattr(error, "sqlite_errorcode", None) or 0
