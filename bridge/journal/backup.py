"""A copy of a store, taken while a service writes to it, and proved before it gets its name.

Rule: what has the name is whole. The copy is made beside it, held against the store line by line, put on the disk, and only
then named; where anything fails nothing is left behind, and an older file of that name is as it was. The store is only read,
and its writer is not held up.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from itertools import zip_longest
from pathlib import Path
from typing import TypeVar

from bridge.journal.reading import Reader
from bridge.journal.refusals import NotWrittenError, StoreError, refusal

Proof = TypeVar("Proof")


class BackupError(Exception):
    """No backup was made: the message says why, and what to do."""


def back_up(store: Path, target: Path, prove: Callable[[Reader, Reader], Proof], *, replace: bool = False) -> Proof:
    """Copy a store to `target`; what `prove` says of the copy and the store, both open for reading.

    `replace`: in place of a file that is there. Raises BackupError, StoreError where the store is damaged or none, and what
    `prove` raises; then there is no backup.
    """
    _refuse_a_bad_name(store, target, replace)
    unnamed = _empty_file_beside(target)
    try:
        _copy(store, unnamed, target)
        with Reader.open(unnamed) as copy, Reader.open(store) as original:
            _compare(copy, original)
            proof = prove(copy, original)
        shutil.copymode(store, unnamed)
        _name(unnamed, target, replace)
    except OSError as error:
        raise BackupError(f"The backup {target} cannot be written: {error}.") from error
    finally:
        with suppress(OSError):
            unnamed.unlink(missing_ok=True)
    return proof


def _refuse_a_bad_name(store: Path, target: Path, replace: bool) -> None:
    own = [store, *(store.with_name(f"{store.name}-{part}") for part in ("wal", "shm", "writer", "journal"))]
    is_same = target.exists() and store.exists() and target.samefile(store)
    if is_same or target.absolute() in [path.absolute() for path in own]:
        raise BackupError(f"{target} is the store itself: name another file, on another disk where there is one.")
    if target.is_dir():
        raise BackupError(f"{target} is a folder: name a file in it.")
    if not target.parent.is_dir():
        raise BackupError(f"There is no folder {target.parent} to put the backup in: make it, or name another.")
    if target.exists() and not replace:
        raise BackupError(f"There is a file {target} already: name another, or put this one in its place with --replace.")


def _empty_file_beside(target: Path) -> Path:
    try:
        number, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    except OSError as error:
        raise BackupError(f"Nothing can be written to {target.parent}: {error}. Name another file.") from error
    os.close(number)
    return Path(name)


def _copy(store: Path, unnamed: Path, target: Path) -> None:
    """All pages of one moment; the copy needs no second file beside it."""
    with closing(Reader.open(store)) as source, closing(sqlite3.connect(unnamed, isolation_level=None)) as copy:
        try:
            source.copy_to(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            found = [row[0] for row in copy.execute("PRAGMA integrity_check(3)")]
        except sqlite3.Error as error:
            refused = refusal(target, error)
            if isinstance(refused, NotWrittenError):
                raise BackupError(f"The backup {target} cannot be written: {refused.why}. {refused.do}") from error
            if isinstance(refused, StoreError):
                raise _damaged(store, str(error)) from error
            raise
    if found != ["ok"]:
        raise _damaged(store, found[0])


def _damaged(store: Path, how: str) -> StoreError:
    return StoreError(
        f"The store {store} is damaged ({how}): no backup was made of it. Go on from an older one; "
        "`numbertaker capture STORE all` prints what can still be read."
    )


def _compare(copy: Reader, original: Reader) -> None:
    """The copy is the beginning of the store, which may have gone on since. Raises BackupError where it is not."""
    sessions = copy.sessions()
    if copy.railway != original.railway:
        raise BackupError("The copy is another railway's than the store: no backup was made.")
    for session, there in zip_longest(sessions, original.sessions()[: len(sessions)]):
        number = session.id
        deadlines, steps = copy.deadlines(number), copy.clock_steps(number)
        is_same = (
            there is not None
            and (number, session.began, session.after_end) == (there.id, there.began, there.after_end)
            and copy.folder(number) == original.folder(number)
            and copy.learned(number) == original.learned(number)
            and all(mine == its for mine, its in zip_longest(copy.lines(number), original.lines(number, session.lines)))
            and deadlines == original.deadlines(number)[: len(deadlines)]
            and steps == original.clock_steps(number)[: len(steps)]
        )
        if not is_same:
            raise BackupError(f"Session {number} of the copy is not that of the store: no backup was made. Try it again.")


def _name(unnamed: Path, target: Path, replace: bool) -> None:
    """Put the copy on the disk and give it its name, which no other file gets in between."""
    _sync(unnamed)
    if replace:
        unnamed.replace(target)
    else:
        try:
            target.hardlink_to(unnamed)
        except FileExistsError:
            raise BackupError(f"A file {target} has just been made by somebody else: name another.") from None
        except OSError:  # a disk that knows no second names, such as most sticks
            unnamed.rename(target)
    _sync(target.parent)


def _sync(path: Path) -> None:
    with suppress(PermissionError):  # Windows opens no folder
        number = os.open(path, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
