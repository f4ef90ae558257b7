"""The desk at which the journal is kept: append, then fold, then (elsewhere) show.

Rule: nothing is folded that is not on the disk, or in the backlog of what the disk did not take; `unkept` tells of that as
long as there is any. Records get the seconds they keep here: 6 decimals, never back or before a deadline that has passed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from bridge.core.outcomes import Outcome
from bridge.folder import FolderRead
from bridge.journal import ClockStep, Journal, Moment, Opening, Page
from bridge.service.backlog import Backlog, Unkept
from bridge.service.clock import not_before
from bridge.service.deliveries import MOST_BETWEEN, Deliveries
from bridge.service.folding import Core, Evening
from bridge.wire.capture import one_line, one_word
from bridge.wire.records import Record, Said


@dataclass(frozen=True, slots=True)
class Taken:
    """A record in the journal: its number, what was said of it and of the deadlines before it, and the core's reply."""

    n: int
    record: Record
    said: tuple[Outcome, ...]
    reply: str


CLOSING = ("stations", "sections", "vehicles", "trains", "moves", "irregularities")
"""The parts of a snapshot that stand as a session closed with them until the next one begins."""


class Desk:
    """One store's current session, and what follows it.

    `now` reads both clocks, `steps` gives where the time of day was set. `folder_again` reads the railway folder for the
    session behind the one that ends; None where it must not come into force.
    """

    def __init__(
        self,
        journal: Journal,
        session: int,
        evening: Evening,
        folder: FolderRead,
        *,
        core: Core,
        now: Callable[[], Moment],
        steps: Callable[[], Sequence[ClockStep]] = tuple,
        folder_again: Callable[[], FolderRead | None],
    ) -> None:
        self.session = session
        self.evening = evening
        self.folder = folder
        self.last_t = evening.t
        """Host seconds of the last record or deadline."""
        self.past: Evening | None = None
        """The session before, once it has been left behind."""
        self.ended: tuple[int, Evening] | None = None
        """The last session that was seen to end, by its number."""
        self.deliveries = Deliveries(journal.reader.deliveries(MOST_BETWEEN), self._former)
        """What brokers have brought, so that it is taken once."""
        self._journal = journal
        self._steps = steps
        self._backlog = Backlog(journal, now)
        self._core = core
        self._folder_again = folder_again

    @property
    def store(self) -> Path:
        """The file in which the journal is kept."""
        return self._backlog.store

    @property
    def unkept(self) -> Unkept | None:
        """What has been folded and is not on the disk; None where all is."""
        return self._backlog.unkept

    def catch_up(self, at_once: bool = False) -> None:
        """Write what could not be written, where it is time to try again, or `at_once`."""
        self._backlog.catch_up(at_once)

    def insist(self) -> None:
        """Raises NotWrittenError where not all is on the disk."""
        self._backlog.insist()

    def take(self, records: Sequence[Record], packets: Sequence[int | None] = ()) -> list[Taken]:
        """Append records, then fold each. All are of one session: an operator's `end` has to be the last of them.

        `packets`: of each record the packet identifier that is kept with it, None where none is; empty where none are.
        Raises StoreError where the store is damaged, and then nothing has happened; FoldError where the core fails on what
        is in the journal.
        """
        evening = self.evening
        kept = self._in_time(records)
        opens = Opening(self.folder.texts, evening.after_end, evening.known) if evening.n == 0 else None
        brought = [(n, packet) for n, packet in enumerate(packets, evening.n + 1) if packet is not None]
        page = Page(self.session, evening.n + 1, kept, opens=opens, steps=self._steps(), deliveries=brought)
        self._backlog.write(page)
        taken: list[Taken] = []
        passed: list[tuple[int, float]] = []
        for record in kept:
            said: list[Outcome] = []
            while (t := evening.due_by(record.t)) is not None:
                passed.append((evening.n, t))
                said += evening.pass_deadline(t)
            said += evening.take(record)
            taken.append(Taken(evening.n, record, tuple(said), evening.reply() if isinstance(record, Said) else ""))
        self.last_t = evening.t
        if passed:
            self._backlog.write(Page(self.session, evening.n + 1, deadlines=passed))
        if evening.is_over:
            self.turn_over(self._folder_again())
        return taken

    def pass_deadline(self, t: float) -> Sequence[Outcome]:
        """Journal a deadline that has come with nothing before it, then wake the core. Raises as `take` does."""
        evening = self.evening
        self._backlog.write(Page(self.session, evening.n + 1, deadlines=[(evening.n, t)]))
        self.last_t = t
        return evening.pass_deadline(t)

    def turn_over(self, folder: FolderRead | None) -> None:
        """Leave this session behind: the next one begins with the next record, under `folder` where it has no faults."""
        if folder is not None and folder.railway is not None:
            self.folder = folder
        assert self.folder.railway is not None
        self.past = self.evening
        if self.past.is_over:
            self.ended = (self.session, self.past)
        self.session += 1
        self.deliveries.turn_over()
        after_end = self.past.is_over or self.past.after_end
        self.evening = Evening(self._core, self.folder.railway, after_end, self.past.learned())

    def renew(self) -> bool:
        """Bring the railway folder into force as it is on the disk now. False, and nothing happens, while a session runs or
        where the folder cannot come into force."""
        folder = None if self.evening.is_running else self._folder_again()
        if folder is None or folder.railway is None:
            return False
        if self.evening.n:
            self.turn_over(folder)
        else:
            self.folder = folder
            self.evening = Evening(self._core, folder.railway, self.evening.after_end, self.evening.known)
        return True

    def view(self) -> dict[str, Any]:
        """The snapshot of this moment: between two sessions what the last one closed with, and the boards as they are."""
        past = self.past
        if past is None or self.evening.is_running or not past.is_over:
            return self.evening.view() if self.evening.n or past is None else past.view()
        closing = past.view()
        if self.evening.n == 0:
            return closing
        return self.evening.view() | {part: closing[part] for part in CLOSING if part in closing}

    def close(self) -> None:
        """Let go of the store."""
        self._backlog.close()

    def _former(self) -> Iterable[str]:
        return self._journal.reader.last_lines(self.session - 1, MOST_BETWEEN)

    def _in_time(self, records: Sequence[Record]) -> list[Record]:
        floor_t, kept = self.last_t, []
        for record in records:
            floor_t = not_before(record.t, floor_t)
            kept.append(_as_kept(record if record.t == floor_t else replace(record, t=floor_t)))
        return kept


def _as_kept(record: Record) -> Record:
    """A record as it can be read back from the line of a capture."""
    if not isinstance(record, Said):
        return record
    who = None if record.who is None else one_word(record.who) or None
    return replace(record, who=who, words=one_line(record.words))
