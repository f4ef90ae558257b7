"""THE loop: take what has come, append it to the journal, fold it, show it, and only then acknowledge it.

Rule: one thread. What goes wrong outside (a link, a page, a full disk) never ends it; a core that fails does, after what
came has been journalled, for its state can no longer be trusted.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from threading import Thread

from bridge.dashboard import Answer, Shown
from bridge.journal import NotWrittenError
from bridge.links.health import Order
from bridge.links.link import Arrival, Link
from bridge.service.desk import Taken
from bridge.service.folding import Core, FoldError
from bridge.service.inbox import Inbox, Item, Telling
from bridge.service.noticeboard import Noticeboard
from bridge.service.resuming import Resumed, health_of
from bridge.service.sheets import Sheet, sheets
from bridge.service.showing import Outlet, Showing
from bridge.wire.lines import Ask
from bridge.wire.records import HostStarted, HostStopped, Said

LONGEST_WAIT_S = 0.25
"""A signal is noticed after so long at the latest: its handler only sets a mark, as it must take no lock."""

LOOK_EVERY_S = 1.0
AGAIN_AFTER_S = 1.0
LINKS_STOP_S = 1.2


class Service:
    """A railway's live service: the door for the dashboard, and the loop behind it."""

    def __init__(
        self,
        resumed: Resumed,
        links: Sequence[Link],
        core: Core,
        outlets: Iterable[Outlet] = (),
        log: Callable[[str], None] = print,
    ) -> None:
        self.inbox = Inbox()
        self._desk = resumed.desk
        self._clock = resumed.clock
        self._links = links
        self._health = resumed.health
        self._core = core
        self._log = log
        self._board = Noticeboard(log)
        self._showing = Showing(self._board, outlets, log)
        self._showing.remember(resumed.said)
        self._notes = resumed.notes
        self._unwritable: str | None = None
        self._stop_asked = False
        self._look_at = 0.0
        self._show()

    def latest(self) -> Shown:
        """The newest picture."""
        return self._board.latest()

    def subscribe(self, callback: Callable[[Shown], None]) -> Callable[[], None]:
        """Have every new picture handed to `callback`; what is returned ends it."""
        return self._board.subscribe(callback)

    def tell(self, words: str, who: str | None) -> Future[Answer]:
        """Hand over an operator's words. What are no words is answered at once, the rest once journalled and folded."""
        answer: Future[Answer] = Future()
        telling = Telling(Said(self._clock(), who, words), answer)
        refusal = self._core.misword(words) or self._unwritable
        if refusal is None and not self.inbox.offer(telling):
            refusal = "The service has too much to do, or is stopping: it was not taken. Tell it again."
        if refusal is not None:
            telling.reply(Answer(False, refusal, None))
        return answer

    def stop(self) -> None:
        """Ask the loop to end. May be called by a signal's handler."""
        self._stop_asked = True

    def run(self) -> None:
        """Serve until asked to stop.

        Raises NotWrittenError where the journal cannot be written at the start, FoldError where the core fails.
        """
        try:
            self._hear(self._desk.take([HostStarted(self._clock())]))
            for link in self._links:
                link.start(self.inbox.put)
            while not self._stop_asked:
                self._turn()
            self._take_leave()
        finally:
            self.inbox.close()
            for item in self.inbox.gather(0):
                if isinstance(item, Telling):
                    item.reply(Answer(False, "The service is stopping: it was not taken.", None))
            self._stop_links()
            self._board.close()
            self._desk.close()

    def _turn(self) -> None:
        items = self.inbox.gather(self._patience_s())
        if items:
            self._take_in(items)
        else:
            self._pass_deadlines()
        self._ask(self._health.wake(self._clock()))
        self._look_around()
        self._show()

    def _patience_s(self) -> float:
        waits = [LONGEST_WAIT_S]
        dues = (self._desk.evening.due(), self._health.due())
        waits += [due - self._clock() for due in dues if due is not None]
        to_draw = self._showing.wait_s(time.monotonic())
        if to_draw is not None:
            waits.append(to_draw)
        return max(0.0, min(waits))

    def _take_in(self, items: Sequence[Item]) -> None:
        """Journal and fold what has come, answer operators, acknowledge to links."""
        for sheet in sheets(items, self._core.misword, self._log):
            if not self._take_sheet(sheet):
                return
        for item in items:
            if isinstance(item, Arrival) and item.done is not None:
                self._acknowledge(item.done)

    def _take_sheet(self, sheet: Sheet) -> bool:
        """Journal and fold one sheet; False where the loop is to end before the journal could be written."""
        while sheet:
            try:
                taken = self._desk.take([entry.record for entry in sheet])
            except NotWrittenError as error:
                sheet = self._answer_unwritten(sheet, error)
                if self._waits_in_vain():
                    return not sheet
                continue
            except FoldError as error:
                _refuse(sheet, str(error))
                raise
            self._unwritable = None
            self._hear(taken)
            for entry, row in zip(sheet, taken, strict=True):
                if entry.telling is not None:
                    entry.telling.reply(Answer(True, row.reply or "Noted.", row.n))
            break
        return True

    def _pass_deadlines(self) -> None:
        while not self._stop_asked and (t := self._desk.evening.due_by(self._clock())) is not None:
            try:
                said = self._desk.pass_deadline(t)
            except NotWrittenError as error:
                self._answer_unwritten((), error)
                self._waits_in_vain()
                return
            self._unwritable = None
            self._showing.hear(said)

    def _answer_unwritten(self, sheet: Sheet, error: NotWrittenError) -> Sheet:
        """Say that the journal cannot be written; what operators told is not kept waiting, what links brought is."""
        self._unwritable = (
            f"The journal cannot be written, so nothing is taken and nothing new is shown. {error}. Make room."
        )
        _refuse(sheet, self._unwritable)
        return tuple(entry for entry in sheet if entry.telling is None)

    def _waits_in_vain(self) -> bool:
        """Wait before the journal is tried again; True where the loop is to end first."""
        self._look_around(at_once=True)
        self._show()
        until = time.monotonic() + AGAIN_AFTER_S
        while time.monotonic() < until and not self._stop_asked:
            time.sleep(0.05)
        return self._stop_asked

    def _hear(self, taken: Sequence[Taken]) -> None:
        for row in taken:
            self._showing.hear(row.said)
            self._ask(self._health.take(row.record))
        if self._desk.evening.n == 0:  # the session has ended: for the next one boards are asked anew
            self._notes = ()
            self._health = health_of(self._desk.folder)
            assert self._desk.folder.railway is not None
            self._ask([(board, Ask()) for board in self._desk.folder.railway.plant.boards])

    def _ask(self, orders: Iterable[Order]) -> None:
        for board, line in orders:
            try:
                any(link.send(board, line) for link in self._links)
            except Exception as error:
                self._log(f"Board {board} could not be asked: {type(error).__name__}: {error}")

    def _acknowledge(self, done: Callable[[], None]) -> None:
        try:
            done()
        except Exception as error:  # the link's own: what is not acknowledged comes again, and counts once
            self._log(f"A message could not be acknowledged: {type(error).__name__}: {error}")

    def _look_around(self, at_once: bool = False) -> None:
        """Note what keeps links and journal from working."""
        now_s = time.monotonic()
        if now_s < self._look_at and not at_once:
            return
        self._look_at = now_s + LOOK_EVERY_S
        troubles = [trouble for link in self._links for trouble in link.troubles()]
        if self._unwritable is not None:
            troubles.insert(0, self._unwritable)
        self._showing.note([*self._notes, *troubles])

    def _show(self) -> None:
        self._showing.draw(self._desk.view, time.monotonic())

    def _take_leave(self) -> None:
        """Take what links still bring while they stop, then journal that the service has stopped."""
        stopping = self._stop_links()
        until = time.monotonic() + LINKS_STOP_S
        while any(thread.is_alive() for thread in stopping) and time.monotonic() < until:
            self._take_in(self.inbox.gather(0.02))
        self.inbox.close()
        while items := self.inbox.gather(0):
            self._take_in(items)
        with suppress(NotWrittenError):  # the next start journals it in its place
            self._hear(self._desk.take([HostStopped(self._clock())]))
        self._show()

    def _stop_links(self) -> list[Thread]:
        links, self._links = self._links, ()
        threads = [Thread(target=link.stop, name=f"stop {link.name}", daemon=True) for link in links]
        for thread in threads:
            thread.start()
        return threads


def _refuse(sheet: Sheet, why: str) -> None:
    for entry in sheet:
        if entry.telling is not None:
            entry.telling.reply(Answer(False, why, None))
