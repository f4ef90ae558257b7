"""THE loop: take what has come, append it to the journal, fold it, show it, and only then acknowledge it.

Rules. One thread. What goes wrong outside (a link, a page, a full disk) never ends it; a core that fails does, after what
came has been journalled, for its state can no longer be trusted.

The screen shows what the journal lacks only while the page says so in red: as long as the disk does not take what comes, it
is folded and shown all the same, nothing of it is acknowledged, and once the disk takes it again it is written as it was
folded. Where too much waits for that, nothing more is taken and the picture stands still.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from queue import Queue

from bridge.dashboard import Answer, Fitness, Shown
from bridge.links.link import Link
from bridge.service.calming import Calming
from bridge.service.desk import Taken
from bridge.service.exchange import Exchange
from bridge.service.folding import Core, Evening, FoldError
from bridge.service.inbox import Inbox, Item, Telling
from bridge.service.noticeboard import Noticeboard
from bridge.service.notify import Supervisor
from bridge.service.resuming import Resumed, health_of
from bridge.service.room import Room
from bridge.service.sheets import Sheet, sheets
from bridge.service.showing import Outlet, Showing, clock_of, told_of
from bridge.service.sleep import Stood
from bridge.service.status import in_short
from bridge.service.sweeping import Sweep
from bridge.wire.lines import Ask
from bridge.wire.records import HostStarted, HostStopped, Said

LONGEST_WAIT_S = 0.25
"""A signal is noticed after so long at the latest: its handler only sets a mark, as it must take no lock."""

HELD_UP_S = 0.05
LOOK_EVERY_S = 1.0
UNKEPT_REPLY = "Noted, but not on the disk yet."


class Service:
    """A railway's live service: the door for the dashboard, and the loop behind it."""

    def __init__(
        self,
        resumed: Resumed,
        links: Sequence[Link],
        core: Core,
        outlets: Iterable[Outlet] = (),
        log: Callable[[str], None] = print,
        supervisor: Supervisor | None = None,
    ) -> None:
        self.inbox = Inbox()
        self._desk = resumed.desk
        self._clock = resumed.clock
        self._vigil = resumed.vigil
        self._status = resumed.status
        self._supervisor = supervisor or Supervisor()
        self._exchange = Exchange(links, log)
        self._health = resumed.health
        self._core = core
        self._log = log
        self._board = Noticeboard(log)
        self._showing = Showing(self._board, outlets, log)
        self._showing.remember(resumed.said)
        self._notes = resumed.notes
        self._calming = Calming()
        self._room = Room(resumed.desk.store, time.monotonic())
        self._was_kept = True
        self._stop_asked = False
        self._renewals: Queue[Future[bool]] = Queue()
        self._look_at = 0.0
        self._sweep = Sweep(time.monotonic())
        self._show()

    def latest(self) -> Shown:
        """The newest picture."""
        return self._board.latest()

    def subscribe(self, callback: Callable[[Shown], None]) -> Callable[[], None]:
        """Have every new picture handed to `callback`; what is returned ends it."""
        return self._board.subscribe(callback)

    def fitness(self) -> Fitness:
        """How the loop fares."""
        return self._status.fitness()

    def tell(self, words: str, who: str | None) -> Future[Answer]:
        """Hand over an operator's words. What are no words is answered at once, the rest once journalled and folded."""
        answer: Future[Answer] = Future()
        telling = Telling(Said(self._clock(), who, words), answer)
        refusal = self._core.misword(words)
        if refusal is None and self._is_held_up():
            refusal = "It was not taken: too much waits for the disk. See what the red banner asks for, then tell it again."
        if refusal is None and not self.inbox.offer(telling):
            refusal = "The service has too much to do, or is stopping: it was not taken. Tell it again."
        if refusal is not None:
            telling.reply(Answer(False, refusal, None))
        return answer

    @property
    def is_running(self) -> bool:
        """Whether a session has begun and not ended."""
        return self._desk.evening.is_running

    @property
    def ended(self) -> tuple[int, Evening] | None:
        """The session that ended last, by its number, where this service has seen it end; it no longer changes."""
        return self._desk.ended

    def renew(self) -> Future[bool]:
        """Have the railway folder come into force as it is on the disk now; False where it did not, as a session runs."""
        renewed: Future[bool] = Future()
        self._renewals.put(renewed)
        return renewed

    def stop(self) -> None:
        """Ask the loop to end. May be called by a signal's handler."""
        self._stop_asked = True

    def run(self) -> None:
        """Serve until asked to stop.

        Raises NotWrittenError where the journal cannot be written at the start, FoldError where the core fails.
        """
        try:
            self._hear(self._desk.take([HostStarted(self._clock())]))
            self._desk.insist()
            self._exchange.start(self.inbox.put)
            self._supervisor.runs()
            while not self._stop_asked:
                self._turn()
            self._supervisor.stops()
            self._take_leave()
        finally:
            self.inbox.close()
            for item in self.inbox.gather(0):
                if isinstance(item, Telling):
                    item.reply(Answer(False, "The service is stopping: it was not taken.", None))
            self._exchange.stop()
            self._leave_desk()
            self._board.close()

    def _turn(self) -> None:
        items = self._gathered()
        stood = self._vigil.look()
        if stood is not None:
            items = self._wake(items, stood)
        if items or self._calming.is_due(self._clock()):
            self._take_in(items)
        elif not self._is_held_up():
            self._pass_deadlines()
        self._catch_up()
        self._renew()
        self._exchange.send(self._health.wake(self._clock()))
        self._look_around()
        self._show()
        self._sweep.turned(time.monotonic(), not items)
        self._status.turned()
        self._supervisor.lives()

    def _gathered(self) -> Sequence[Item]:
        is_held_up = self._is_held_up()
        patience_s = HELD_UP_S if is_held_up else self._patience_s()
        self._vigil.wait(patience_s)
        if is_held_up:
            time.sleep(patience_s)
            return ()
        return self.inbox.gather(patience_s)

    def _wake(self, items: Sequence[Item], stood: Stood) -> Sequence[Item]:
        """The host has slept, or this process was stopped: what came before is taken first, and is stale from here on."""
        self._log(
            f"Nothing was heard for {stood.now_t - stood.last_t:.0f} s: the computer slept, or this program was stopped."
        )
        before = [item for item in items if item.came_t < stood.cut_t]
        self._take_in(before, at_once=True)
        self._hear(self._desk.take([HostStopped(stood.last_t), HostStarted(stood.now_t)]))
        return [item for item in items if item not in before]

    def _is_held_up(self) -> bool:
        """Whether so much is not on the disk that links have to be held back: the picture stands still."""
        unkept = self._desk.unkept
        return unkept is not None and (unkept.is_full or self._exchange.is_owed_too_much())

    def _patience_s(self) -> float:
        waits = [LONGEST_WAIT_S]
        dues = (self._desk.evening.due(), self._health.due(), self._calming.due())
        waits += [due - self._clock() for due in dues if due is not None]
        to_draw = self._showing.wait_s(time.monotonic())
        if to_draw is not None:
            waits.append(to_draw)
        return max(0.0, min(waits))

    def _take_in(self, items: Sequence[Item], at_once: bool = False) -> None:
        """Journal and fold what has come, answer operators, acknowledge to links."""
        sifted = self._calming.sift(items, self._clock(), at_once)
        for sheet in sheets(sifted, self._core.misword, self._log, self._desk.deliveries):
            self._take_sheet(sheet)
        self._exchange.owe(items)
        self._acknowledge()

    def _take_sheet(self, sheet: Sheet) -> None:
        try:
            taken = self._desk.take([entry.record for entry in sheet], [entry.packet for entry in sheet])
        except FoldError as error:
            for entry in sheet:
                if entry.telling is not None:
                    entry.telling.reply(Answer(False, str(error), None))
            raise
        self._hear(taken)
        is_kept = self._desk.unkept is None
        for entry, row in zip(sheet, taken, strict=True):
            if entry.telling is not None:
                text = (row.reply or "Noted.") if is_kept else f"{UNKEPT_REPLY} {row.reply}".rstrip()
                entry.telling.reply(Answer(True, text, row.n))

    def _pass_deadlines(self) -> None:
        while not self._stop_asked and (t := self._desk.evening.due_by(self._vigil.t)) is not None:
            self._showing.hear(self._desk.pass_deadline(t))

    def _renew(self) -> None:
        while not self._renewals.empty():
            is_renewed = self._desk.renew()
            if is_renewed:
                self._hear(())  # boards are asked anew
                self._hear(self._desk.take([HostStarted(self._clock())]))
            self._renewals.get().set_result(is_renewed)

    def _catch_up(self, at_once: bool = False) -> None:
        """Write what the disk did not take, where it takes it by now."""
        before = self._desk.unkept
        if before is None:
            return
        self._desk.catch_up(at_once)
        if self._desk.unkept is None:
            self._log(f"The disk takes the journal again: all is written that had not been since {clock_of(before.since)}.")
            self._acknowledge()

    def _acknowledge(self) -> None:
        """Tell links that what they brought is on the disk, where all is."""
        if self._desk.unkept is None and not self._calming.owes:
            self._exchange.acknowledge()

    def _hear(self, taken: Sequence[Taken]) -> None:
        self._status.took(row.record for row in taken)
        for row in taken:
            self._showing.hear(row.said)
            self._exchange.send(self._health.take(row.record))
        if self._desk.evening.n == 0:  # the session has ended: for the next one boards are asked anew
            self._notes = ()
            self._health = health_of(self._desk.folder)
            assert self._desk.folder.railway is not None
            self._exchange.send([(board, Ask()) for board in self._desk.folder.railway.plant.boards])

    def _look_around(self) -> None:
        """Note what keeps links and journal from working; at once where the disk begins or ceases to take what comes."""
        now_s, is_kept = time.monotonic(), self._desk.unkept is None
        if now_s < self._look_at and is_kept == self._was_kept:
            return
        self._look_at, self._was_kept = now_s + LOOK_EVERY_S, is_kept
        troubles = [*self._room.notices(now_s), *self._calming.troubles(self._clock())]
        troubles += self._exchange.troubles()
        self._showing.note([*self._notes, *self._clock.notices(), *troubles], told_of(self._desk.unkept, self._is_held_up()))
        self._status.looked(0 if self._desk.unkept is None else self._desk.unkept.records)
        self._supervisor.fares(in_short(self.latest().snapshot))

    def _show(self) -> None:
        self._showing.draw(self._desk.view, time.monotonic())

    def _take_leave(self) -> None:
        """Take what links still bring while they stop, then journal that the service has stopped."""
        self._catch_up(at_once=True)  # while links still stand, to be told that it is kept
        self._exchange.stop()
        while self._exchange.is_stopping():
            self._take_in(self.inbox.gather(0.02))
        self.inbox.close()
        while items := self.inbox.gather(0):
            self._take_in(items)
        self._take_in((), at_once=True)
        self._hear(self._desk.take([HostStopped(self._clock())]))
        self._catch_up(at_once=True)
        self._show()

    def _leave_desk(self) -> None:
        """Let go of the journal; what it could not take goes with us, and is told."""
        try:
            self._desk.catch_up(at_once=True)
            unkept = self._desk.unkept
            if unkept is not None:
                self._log(
                    f"Stopped while {unkept.why}; lines that are not kept: {unkept.records}. What was not acknowledged "
                    "comes again from the broker; boards on ports are asked for what they still hold."
                )
        finally:
            self._desk.close()
