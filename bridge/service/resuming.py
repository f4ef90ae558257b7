"""A store taken up where it was left: its last session folded anew from the journal, and the clock set to go on.

Rule: what has been journalled decides, under the folder that was in force then. A folder edited since comes into force with
the next session; at once where none has begun.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.core.outcomes import Outcome
from bridge.folder import FolderRead, read
from bridge.journal import NotWrittenError, Session, StoreError
from bridge.links.health import Health
from bridge.service.clock import HostClock, going_on
from bridge.service.desk import Desk
from bridge.service.folding import Core, Evening
from bridge.service.sleep import Vigil, elapsed_s
from bridge.service.status import Status, TimedJournal
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

    `vigil` and `status` are the loop's own. `health` knows the boards as the session left them; `said` are its outcomes so
    far; `notes` are for the operator.
    """

    desk: Desk
    clock: HostClock
    vigil: Vigil
    status: Status
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
    monotonic: Callable[[], float] = elapsed_s,
    wall: Callable[[], float] = time.time,
    pace: float = 1.0,
) -> Resumed:
    """Open the store of a railway, or make it, and bring its last session back.

    `folder` is the railway folder as it is now, without faults; `folder_again` reads it for the session behind one that
    ends. `monotonic` counts real seconds, asleep or awake; each of them is `pace` host seconds. Raises StoreError where the
    store cannot be used, FoldError where the core fails on what is in it.
    """
    assert folder.railway is not None
    journal = TimedJournal(path, folder.railway.plant.id)
    status = Status(journal)
    try:
        sessions, last = journal.reader.sessions(), journal.reader.last_moment
        past = _folded_anew(journal, sessions[-1], core) if sessions else None
        start_t = 0.0 if past is None else going_on(last, past.evening.t, wall())
        clock = HostClock(start_t, monotonic, wall, pace=pace, last=last)
        evening, in_force = (Evening(core, folder.railway), folder) if past is None else (past.evening, past.folder)
        number = sessions[-1].id if sessions else 1
        desk = Desk(
            journal, number, evening, in_force, core=core, now=clock.now, steps=clock.take_steps, folder_again=folder_again
        )
        resumed = Resumed(desk, clock, Vigil(clock), status, health_of(folder))
        if past is not None:
            resumed = _brought_up(resumed, past, folder)
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


def _folded_anew(journal: TimedJournal, session: Session, core: Core) -> _Past:
    reader = journal.reader
    folder = read(reader.folder(session.id))
    if folder.railway is None:
        raise StoreError(
            f"The railway folder of session {session.id} can no longer be read: {folder.findings[0].message} "
            "Name another store with --store; `numbertaker capture` still prints this one."
        )
    evening = Evening(core, folder.railway, session.after_end, reader.learned(session.id))
    health = health_of(folder)
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


def _brought_up(resumed: Resumed, past: _Past, folder: FolderRead) -> Resumed:
    """Journal the stop that a kill left out, and open the next session where this one is over or never began."""
    desk, said, notes, health = resumed.desk, list(past.said), [], past.health
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
    return replace(resumed, health=health, said=tuple(said), notes=tuple(notes))


def health_of(folder: FolderRead) -> Health:
    """What asks the boards of a railway, none of them heard yet."""
    assert folder.railway is not None
    return Health(folder.railway.plant.limits.get("board_lost_after", BOARD_LOST_AFTER_S))
