"""The last minutes, so that they can be told again: what was taken, states kept in between, and what was stated.

Rule: from time to time the state is kept whole, the rarer the larger it is, so that an event's share of the cost stays the
same. What comes late is mostly late by a moment, and to tell a moment again should cost no more than a moment: of the newest
states kept more are held on to than of those before. Memory is bounded: ten minutes can always be told again, as long as no
more than `MOST_EVENTS` came in them.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bridge.core.conditioning import Conditioned, Late
from bridge.core.events import Journalled
from bridge.core.outcomes import Outcome
from bridge.core.retold import retelling
from bridge.core.retold.retelling import Statement
from bridge.wire.lines import Report
from bridge.wire.records import Received

if TYPE_CHECKING:
    from bridge.core.state import State

WINDOW_S = 600.0
MOST_EVENTS = 60_000
SETTLE_S = 0.2  # after the last late line: a board sends what was asked for on end
LONGEST_S = 1.0
ALIKE_S = 10.0  # clocks of boards are known better than that
LEAST_BETWEEN = 12  # events between two states kept; more on a large railway, so that an event's share stays the same
NEWEST = 8  # states kept that are all held on to; of those before one in so many
MOST_EARLIER = 5_000  # statements kept from before: what is told again may have corrected one of them
FIRST_AGAIN_N = 1_000_000_000

Numbered = tuple[str, int, int]
"""Board, boot and number of a report."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What was taken at host second `t`. `is_sign`: it came late or once more, and was only a sign of its board then."""

    t: float
    event: Journalled | Late
    is_sign: bool = False

    @property
    def report(self) -> Numbered | None:
        """Which report was taken for what it says."""
        if isinstance(self.event, Late):
            return _number(self.event.line)
        record = self.event.record
        is_report = not self.is_sign and isinstance(record, Received) and isinstance(record.line, Report)
        return _number(record.line) if is_report else None  # type: ignore[union-attr,arg-type]


@dataclass(frozen=True, slots=True)
class Kept:
    """The state before the event with this index, and how many statements had been made."""

    index: int
    statements: int
    t: float
    pickled: bytes


@dataclass(slots=True)
class Past:
    """The last minutes: what was taken, the states kept in between, what was stated, and what waits to be placed.

    Indices count from the beginning of the session; the lists begin at `events_from` and `statements_from`.
    """

    events: list[Entry] = field(default_factory=list)
    events_from: int = 0
    kept: list[Kept] = field(default_factory=list)
    statements: list[Statement] = field(default_factory=list)
    statements_from: int = 0
    waiting: list[Late] = field(default_factory=list)
    waits_until: float = 0.0
    again_n: int = FIRST_AGAIN_N

    def due(self) -> float | None:
        """When what came late is to be placed (host seconds)."""
        return self.waits_until if self.waiting else None

    def note(self, event: Journalled, heard: Conditioned) -> None:
        """An event was taken; what of it came late waits to be placed. Nothing does where no state is kept."""
        if not self.kept:
            return
        self.events.append(Entry(event.record.t, event, bool(heard.late) or heard.repeated))
        if heard.late:
            self.waiting += heard.late
            first_t = self.waiting[0].t
            self.waits_until = round(min(event.record.t + SETTLE_S, first_t + LONGEST_S), 6)

    def remember(self, said: Iterable[Outcome]) -> None:
        """Something was said."""
        retelling.add(self.statements, said)

    def keep_now_and_then(self, state: State) -> None:
        """Keep the state, where enough has been taken since the last time."""
        if self.kept and not self.waiting and self._end - self.kept[-1].index >= between(state):
            self.keep(state)
            self._forget(state.t)

    def keep(self, state: State) -> None:
        """Keep the state as it is now."""
        self.keep_at(state, self._end, self.statements_from + len(self.statements))

    def keep_at(self, state: State, index: int, statements: int) -> None:
        """Keep a state that holds before the event with this index, with so many statements made."""
        past, state.past = state.past, Past()
        self.kept.append(Kept(index, statements, state.t, pickle.dumps(state, pickle.HIGHEST_PROTOCOL)))
        state.past = past
        self._thin(NEWEST * between(state))

    @property
    def _end(self) -> int:
        return self.events_from + len(self.events)

    def _thin(self, apart: int) -> None:
        """Let go of the state that is no longer among the newest, where those beside it lie near enough to each other."""
        at = len(self.kept) - 1 - NEWEST
        if at > 0 and self.kept[at + 1].index - self.kept[at - 1].index <= apart:
            del self.kept[at]

    def _forget(self, t: float) -> None:
        """Give up what lies before the window."""
        while len(self.kept) > 1 and (self.kept[1].t <= t - WINDOW_S or self._end - self.kept[1].index > MOST_EVENTS):
            del self.kept[0]
        first = self.kept[0]
        del self.events[: first.index - self.events_from]
        surplus = max(0, first.statements - self.statements_from - MOST_EARLIER)
        del self.statements[:surplus]
        self.events_from, self.statements_from = first.index, self.statements_from + surplus

    def place_waiting(self) -> tuple[int | None, frozenset[int]]:
        """Put what waits in its place: the first index that has changed, and the journal numbers of what was placed.

        What happened before the window is not placed: it fills its gap, and tells nothing any more.
        """
        first: int | None = None
        placed = []
        for late in sorted(self.waiting, key=lambda row: (row.line.board, row.line.boot, row.line.seq)):
            at = self._place_of(late)
            if at == 0 and late.happened_t < self.kept[0].t:
                continue
            before_t = self.events[at - 1].t if at else self.kept[0].t
            after_t = self.events[at].t if at < len(self.events) else late.t
            self.events.insert(at, Entry(min(max(late.happened_t, before_t), after_t), late))
            placed.append(late.n)
            index = self.events_from + at
            first = index if first is None else min(first, index)
        self.waiting.clear()
        return first, frozenset(placed)

    def _place_of(self, late: Late) -> int:
        """Where in `events` it belongs: by its time, but between the reports of its boot with lower and higher numbers."""
        board, boot, seq = _number(late.line)
        at, least, most = len(self.events), 0, len(self.events)
        for i in range(len(self.events) - 1, -1, -1):
            entry = self.events[i]
            report = entry.report
            if report is not None and report[:2] == (board, boot):
                if report[2] < seq:
                    least = i + 1
                    break
                most = i
            if entry.t > late.happened_t:
                at = i
            elif entry.t < late.happened_t - ALIKE_S:
                break
        return max(least, min(at, most))

    def kept_before(self, index: int) -> Kept:
        """The last state kept before an event, and before any deadline that it might have put off; those kept later no
        longer hold."""
        t = self.events[index - self.events_from].t
        while len(self.kept) > 1 and (self.kept[-1].index > index or self.kept[-1].t > t):
            del self.kept[-1]
        return self.kept[-1]


def between(state: State) -> int:
    """How many events lie between two states kept: as many more as the state is larger."""
    railway = state.railway
    assert railway is not None
    return LEAST_BETWEEN + len(railway.stock) + len(railway.plant.detectors)


def _number(line: Report) -> Numbered:
    return line.board, line.boot, line.seq
