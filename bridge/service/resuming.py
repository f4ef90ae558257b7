"""A store taken up where it was left: its last session folded anew from the journal, and the clock set to go on.

Rule: what has been journalled decides, under the folder that was in force then. A folder edited since comes into force with
the next session; at once where none has begun.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.core.outcomes import Outcome
from bridge.folder import FolderRead, read
from bridge.journal import Journal, NotWrittenError, Session, StoreError
from bridge.links.health import Health
from bridge.service.clock import HostClock, going_on
from bridge.service.desk import Desk
from bridge.service.folding import Core, Evening
from bridge.wire.records import HostStopped, Record

BOARD_LOST_AFTER_S = 6.0
"""Where `[limits]` in railway.toml says nothing else."""

OLD_FOLDER = (
    "The railway folder has changed since this session was opened. The session goes on with the folder as it was then; "
    "the changed one comes into force after `end`."
)


@dataclass(frozen=True)
class Resumed:
    """A store ready for its next record.

    `health` knows the boards as the session left them; `said` are its outcomes so far; `notes` are for the operator.
    """

    desk: Desk
    clock: HostClock
    health: Health
    said: tuple[Outcome, ...] = ()
    notes: tuple[str, ...] = ()


FolderAgain = Callable[[], FolderRead | None]


def take_up(
    path: Path,
    folder: FolderRead,
    core: Core,
    *,
    folder_again: FolderAgain,
    monotonic: Callable[[], float] = time.monotonic,
    wall: Callable[[], float] = time.time,
) -> Resumed:
    """Open the store of a railway, or make it, and bring its last session back.

    `folder` is the railway folder as it is now, without faults; `folder_again` reads it for the session behind one that
    ends. Raises StoreError where the store cannot be used, FoldError where the core fails on what is in it.
    """
    assert folder.railway is not None
    journal = Journal(path, folder.railway.plant.id)
    try:
        sessions = journal.reader.sessions()
        if not sessions:
            clock = HostClock(0.0, monotonic, wall)
            desk = Desk(
                journal, 1, Evening(core, folder.railway), folder, core=core, now=clock.now, folder_again=folder_again
            )
            return Resumed(desk, clock, health_of(folder))
        past = _folded_anew(journal, sessions[-1], core)
        clock = HostClock(going_on(journal.reader.last_moment, past.evening.t, wall()), monotonic, wall)
        desk = Desk(journal, sessions[-1].id, past.evening, past.folder, core=core, now=clock.now, folder_again=folder_again)
        resumed = _brought_up(desk, past, folder, clock)
        desk.insist()
        return resumed
    except NotWrittenError as error:
        journal.close()
        raise StoreError(f"The journal cannot be written: {error}") from error
    except BaseException:
        journal.close()
        raise


@dataclass(frozen=True)
class _Past:
    evening: Evening
    folder: FolderRead
    health: Health
    said: tuple[Outcome, ...]
    was_killed: bool


def _folded_anew(journal: Journal, session: Session, core: Core) -> _Past:
    reader = journal.reader
    folder = read(reader.folder(session.id))
    if folder.railway is None:
        raise StoreError(
            f"The railway folder of session {session.id} can no longer be read: {folder.findings[0].message} "
            "Name another store with --store; `numbertaker capture` still prints this one."
        )
    evening, health = Evening(core, folder.railway, session.after_end), health_of(folder)
    said: list[Outcome] = []
    last: Record | None = None
    for journalled in reader.records(session.id):
        said += evening.follow(journalled.record)
        health.take(journalled.record)  # what it asks for was sent at the time
        last = journalled.record
    until = reader.last_deadline(session.id)
    while until is not None and (t := evening.due_by(until)) is not None:
        said += evening.pass_deadline(t)
    return _Past(evening, folder, health, tuple(said), not isinstance(last, HostStopped))


def _brought_up(desk: Desk, past: _Past, folder: FolderRead, clock: HostClock) -> Resumed:
    """Journal the stop that a kill left out, and open the next session where this one is over or never began."""
    said, notes, health = list(past.said), [], past.health
    has_changed = dict(folder.texts) != dict(past.folder.texts)
    if past.evening.is_over:
        desk.turn_over(folder)
        said, health = [], health_of(folder)
    if past.was_killed:
        said += [outcome for taken in desk.take([HostStopped(desk.last_t)]) for outcome in taken.said]
    if has_changed and not past.evening.is_over:
        if past.evening.is_running:
            notes.append(OLD_FOLDER)
        else:
            desk.turn_over(folder)
            said, health = [], health_of(folder)
    return Resumed(desk, clock, health, tuple(said), tuple(notes))


def health_of(folder: FolderRead) -> Health:
    """What asks the boards of a railway, none of them heard yet."""
    assert folder.railway is not None
    return Health(folder.railway.plant.limits.get("board_lost_after", BOARD_LOST_AFTER_S))
