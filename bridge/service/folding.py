"""One session handed to the core, event by event: the one way in which live service and replay feed it.

Rules. A deadline at or before a record's time goes first. Between a stop of the service and its next start none passes. The
folder is taken at the time of the session's first record; before that the core is not woken. What the core says depends on
nothing but the records, the folder and this module.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from bridge.core.events import DeadlinePassed, Event, FolderTaken, Journalled
from bridge.core.learned import Learned
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.wire.capture import format_record
from bridge.wire.records import HostStarted, HostStopped, Record

MOST_AT_ONCE = 10_000
"""So many deadlines at one moment are an error of the core: it would be woken for ever."""


@dataclass(frozen=True, slots=True)
class Core:
    """The functions of the core that the service uses (`bridge.service.core.CORE`); tests may put others in their place."""

    fresh: Callable[[bool], Any]
    """A state that knows nothing; True: a session has ended before, nothing is said until `begin`."""
    fold: Callable[[Any, Event], tuple[Any, Sequence[Outcome]]]
    due: Callable[[Any], float | None]
    close: Callable[[Any, float], tuple[Any, Sequence[Outcome]]]
    view: Callable[[Any], dict[str, Any]]
    misword: Callable[[str], str | None]
    """Why these are no words that an operator may tell; None where they are."""
    reply: Callable[[Any], str]
    """What the core answered to the last words told."""
    learned: Callable[[Any], Learned | None]
    """What a session has learned, for the next one."""


class FoldError(Exception):
    """The core failed on an event: its state cannot be trusted any more. The message says on which."""


class Evening:
    """One session's fold, from its first record on."""

    def __init__(self, core: Core, railway: Railway, after_end: bool = False, known: Learned | None = None) -> None:
        self.railway = railway
        self.known = known
        """What it begins with of what earlier sessions have learned."""
        self.after_end = after_end
        self.n = 0
        """The journal number of the last record taken."""
        self.t = 0.0
        """Host seconds of the last event taken."""
        self.is_running = False
        """Whether `begin` has been told and `end` has not."""
        self.is_over = False
        """Whether the session has ended: later records belong to the next."""
        self._core = core
        self._state = core.fresh(after_end)
        self._is_stopped = False
        self._passed_at_t = 0

    def due(self) -> float | None:
        """When the core wants to be woken (host seconds, never before the last event); None when nothing waits."""
        if self.n == 0 or self._is_stopped or self.is_over:
            return None
        t = self._core.due(self._state)
        return None if t is None else max(t, self.t)

    def due_by(self, t: float) -> float | None:
        """The next deadline where it is at or before `t`."""
        due = self.due()
        return None if due is None or due > t else due

    def pass_deadline(self, t: float) -> Sequence[Outcome]:
        """Wake the core at a moment that `due` has named."""
        self._passed_at_t = self._passed_at_t + 1 if t == self.t else 0
        if self._passed_at_t > MOST_AT_ONCE:
            raise FoldError(f"The core asks to be woken at {t:.6f} s again and again, behind journal number {self.n}.")
        return self._fold(DeadlinePassed(t))

    def take(self, record: Record) -> Sequence[Outcome]:
        """Take the next record; the deadlines up to its time have to have passed."""
        if self.n == 0:
            self.t = record.t
            self._fold(FolderTaken(record.t, self.railway, self.known))
        self.n += 1
        self._is_stopped = isinstance(record, HostStopped) or (self._is_stopped and not isinstance(record, HostStarted))
        return self._fold(Journalled(self.n, record))

    def follow(self, record: Record) -> Iterator[Outcome]:
        """Take the next record with the deadlines before it; all that is said."""
        while (t := self.due_by(record.t)) is not None:
            yield from self.pass_deadline(t)
        yield from self.take(record)

    def close(self) -> Sequence[Outcome]:
        """The closing words where the records end and the session has not."""
        self._state, said = self._core.close(self._state, self.t)
        return said

    def view(self) -> dict[str, Any]:
        """The snapshot of this moment."""
        return self._core.view(self._state)

    def learned(self) -> Learned | None:
        """What the next session begins with: what this one has learned, or brought with it where it never began; and how the
        line is drawn now."""
        if self.n == 0:
            return self.known
        found = self._core.learned(self._state)
        if self.is_running or self.is_over:
            return found
        before = self.known or Learned({}, {})
        now = replace(before, drawn={} if found is None else found.drawn)
        return now if now.readers or now.tags or now.drawn else None

    def reply(self) -> str:
        """What the core answered to the last words told."""
        return self._core.reply(self._state)

    def _fold(self, event: Event) -> Sequence[Outcome]:
        t = event.record.t if isinstance(event, Journalled) else event.t
        try:
            self._state, said = self._core.fold(self._state, event)
        except Exception as error:
            raise FoldError(f"The core failed at {_named(event)}: {type(error).__name__}: {error}") from error
        self.t = t
        for outcome in said:
            if outcome.says == "session":
                state = outcome.keys.get("state")
                self.is_running = self.is_running or state == "started"
                self.is_over = self.is_over or state == "ended"
        return said


def _named(event: Event) -> str:
    match event:
        case Journalled(n, record):
            return f"journal number {n} ({format_record(record)})"
        case DeadlinePassed(t):
            return f"the deadline of {t:.6f} s"
        case FolderTaken():
            return "the railway folder"
