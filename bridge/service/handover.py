"""What a session hands over, live or afterwards: the last one of a store that has ended, with what was told by eye since.

Rule: it is there from `end` until the next `begin`, also when the service was started again in between. It works in the
threads of those who ask; the loop is only asked to take up what was written.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from bridge.core.operator import words
from bridge.dashboard import Answer
from bridge.folder.handover import Ended, NotWrittenDownError, Offer, offered, write_down
from bridge.journal import Reader, Session
from bridge.service.core import CORE
from bridge.service.folding import Core, Evening
from bridge.service.recounting import at_its_beginning

RENEWED_S = 10.0
NONE_YET = "No session of this store has begun yet: there is nothing to write down."
RUNNING = "The session has not ended: tell `end` first."
CHANGED = "Something has changed since you looked, so nothing was written. Look again."
NOTHING_NEW = "All of it is written down already."


class Underway(Protocol):
    """The live service, as far as it is asked here."""

    @property
    def is_running(self) -> bool:
        """Whether a session has begun and not ended."""

    @property
    def ended(self) -> tuple[int, Evening] | None:
        """The session that ended last, by its number, where it was seen to end."""

    def renew(self) -> Future[bool]:
        """Have the railway folder come into force as it is on the disk now."""


class NothingToHandOverError(Exception):
    """There is no session to hand over; the message says why."""


@dataclass
class Handover:
    """What there is to write down of a railway's folder and store. `service` is None where none runs.

    Raises StoreError where the store cannot be read, FoldError where the core fails on what is in it.
    """

    folder: Path
    store: Path
    service: Underway | None = None
    core: Core = CORE
    now: Callable[[], datetime] = datetime.now
    _told_again: tuple[int, Evening] | None = None
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def offer(self) -> dict[str, Any]:
        """What would be written, JSON-ready; where that is nothing, `token` is null and `text` says why."""
        try:
            with self._turn:
                return self._offer().as_dict()
        except NothingToHandOverError as error:
            return {"session": None, "token": None, "text": str(error), "written": False, **_EMPTY}

    def agree(self, token: str) -> Answer:
        """Write down what was shown under `token`; refused where something else would be shown by now."""
        try:
            with self._turn:
                offer = self._offer()
                if offer.why_not is not None or token != offer.token:
                    return Answer(False, offer.why_not or CHANGED, None)
                written = write_down(self.folder, offer, self.now())
                if not written:
                    return Answer(True, NOTHING_NEW, None)
                return Answer(True, _said(written, self._taken_up()), None)
        except (NothingToHandOverError, NotWrittenDownError) as error:
            return Answer(False, str(error), None)

    def _offer(self) -> Offer:
        if self.service is not None and self.service.is_running:
            raise NothingToHandOverError(RUNNING)
        with Reader.open(self.store) as reader:
            begun = reader.begun()
            if not begun:
                raise NothingToHandOverError(NONE_YET)
            sessions = {session.id: session for session in reader.sessions()}
            evening = self._evening(reader, sessions[begun[-1]])
            if not evening.is_over:
                raise NothingToHandOverError(RUNNING)
            told = [word for number in sessions if number > begun[-1] for word in _by_eye(reader, number)]
            return offered(self.folder, Ended(begun[-1], reader.folder(begun[-1]), evening.view(), told))

    def _evening(self, reader: Reader, session: Session) -> Evening:
        """A session as it closed: as the service saw it, else told again from the store, once."""
        seen = self.service.ended if self.service is not None else None
        for known in (seen, self._told_again):
            if known is not None and known[0] == session.id and known[1].is_over:
                return known[1]
        _, evening = at_its_beginning(reader, session, self.core)
        for journalled in reader.records(session.id, session.lines):
            for _ in evening.follow(journalled.record):
                pass
        self._told_again = (session.id, evening)
        return evening

    def _taken_up(self) -> bool | None:
        """Whether what was written is in force for the next session; None where no service runs."""
        if self.service is None:
            return None
        try:
            return self.service.renew().result(RENEWED_S)
        except TimeoutError:  # the service is stopping: started again it reads the folder
            return False


_EMPTY: Mapping[str, Any] = {"vehicles": [], "moves": [], "findings": [], "rows": {}}


def _by_eye(reader: Reader, session: int) -> list[words.Stands]:
    told = (words.parse(said.words) for said in reader.said(session))
    return [word for word in told if isinstance(word, words.Stands)]


def _said(written: tuple[Path, ...], is_taken_up: bool | None) -> str:
    names = ", ".join(path.name for path in written)
    after = "" if is_taken_up is None else " The next session begins with it."
    if is_taken_up is False:
        after = " To begin with it start Numbertaker again, before the next session."
    return f"Written down: {names}.{after}"
