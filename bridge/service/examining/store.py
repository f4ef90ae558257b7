"""The store and its disk.

Rule: the store itself is only read. What has to be written to be measured goes into a folder beside it, which is removed.
"""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from statistics import median

from bridge.journal import Reader, StoreError
from bridge.links.serial_device import holders
from bridge.service.examining.finding import Finding, advice, fault, good
from bridge.service.room import LITTLE_BYTES, LITTLE_SHARE, Usage, usage_of

CHECK_S = 5.0
COMMITS = 20
SLOW_COMMIT_S = 0.05


def store_findings(path: Path, railway: str | None, longest_s: float = CHECK_S) -> Iterator[Finding]:
    """What is wrong with a store, which need not be there yet, and with the disk that holds it."""
    if path.exists():
        yield from _kept(path, railway, longest_s)
    else:
        yield good(f"There is no store {path} yet; `numbertaker run` makes it.")
    if path.parent.is_dir():
        yield space(path.parent)
        yield commits(path.parent)
    else:
        yield fault(f"There is no folder {path.parent} to keep the store in.", "Make it, or name another with --store.")


def _kept(path: Path, railway: str | None, longest_s: float) -> Iterator[Finding]:
    try:
        with Reader.open(path) as reader:
            whose, sessions = reader.railway, reader.sessions()
    except StoreError as error:
        yield fault(str(error), "Go on from a backup of it, or name another with --store.")
        return
    if railway is not None and whose not in (None, railway):
        yield fault(f"{path} belongs to the railway {whose}, not to {railway}.", "Name another store with --store.")
    lines = sum(session.lines for session in sessions)
    yield good(f"{path} is a store: {_count(len(sessions), 'session')}, {_count(lines, 'line')}.")
    yield _integrity(path, longest_s)
    writers = holders(str(path.with_name(f"{path.name}-writer")))
    yield good(f"It is written by {' and '.join(writers)} now." if writers else "Nobody writes to it now.")


def _integrity(path: Path, longest_s: float) -> Finding:
    """SQLite's own quick check, broken off after so long."""
    until = time.monotonic() + longest_s
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as db:
        db.set_progress_handler(lambda: time.monotonic() > until, 10_000)
        try:
            said = [str(row[0]) for row in db.execute("PRAGMA quick_check(3)")]
        except sqlite3.OperationalError as error:
            if "interrupt" not in str(error):
                raise
            return good(f"Nothing damaged was found in {longest_s:g} s; it is too large to be looked through in that time.")
        except sqlite3.DatabaseError as error:
            said = [str(error)]
    if said == ["ok"]:
        return good("It was looked through, and nothing is damaged.")
    return fault(f"It is damaged: {'; '.join(said)}.", "Go on from a backup of it, and look after the disk.")


def space(folder: Path, usage: Callable[[Path], Usage] = usage_of) -> Finding:
    """How much room is left on the disk that holds a folder."""
    total, free = usage(folder)
    said = f"{free / 1e9:.1f} GB of {total / 1e9:.1f} GB are free on the disk that holds {folder}."
    if free >= min(LITTLE_BYTES, LITTLE_SHARE * total):
        return good(said)
    return fault(said, "Make room: a full disk stops the journal, and nothing new is acknowledged.")


def commits(folder: Path) -> Finding:
    """How long the disk takes until it has something, as the journal waits for it."""
    try:
        took_s = median(_commit_times(folder))
    except (OSError, sqlite3.Error) as error:
        return fault(
            f"Nothing can be written in {folder} ({error}).", "Make it yours to write, or keep the store elsewhere."
        )
    said = f"A commit takes {took_s * 1000:.1f} ms on that disk (the middle one of {COMMITS})."
    if took_s <= SLOW_COMMIT_S:
        return good(said)
    return advice(said, "Every report waits that long before it is shown. A better card, or a disk on USB, is quicker.")


def _commit_times(folder: Path) -> list[float]:
    times = []
    with (
        tempfile.TemporaryDirectory(prefix=".doctor-", dir=folder) as name,
        closing(sqlite3.connect(Path(name) / "probe", isolation_level=None)) as db,
    ):
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("CREATE TABLE lines (line TEXT)")
        for _ in range(COMMITS):
            began = time.perf_counter()
            db.execute("INSERT INTO lines VALUES ('mqtt report alder 17 2 22087 10 off*55')")
            times.append(time.perf_counter() - began)
    return times


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}" if number == 1 else f"{number:,} {word}s"
