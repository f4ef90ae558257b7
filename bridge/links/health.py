"""What boards have to be asked for, so that the host hears all they have to say.

Rules. Pure: it is told every record, names the lines to send, and says when it wants to be woken. A board that comes back is
first asked for the numbers it may still hold, then for how its inputs stand; a board with a new boot for how its inputs
stand. A gap is asked for at once and then again, 1 s apart, three times in all. Nobody is asked twice for what is on its
way: a board that has just been asked, or says hello, is given a moment to go on by itself. How inputs stand that screamed is
asked once they have been calm for a moment.

Records of the journal may be told to it after a restart, and what it then wants to send dropped: it knows the boots again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.wire.lines import Again, Alive, Ask, BoardLine, Edge, Hello, HostLine, Report, State
from bridge.wire.numbering import Numbering, Taken
from bridge.wire.records import BoardDown, BoardUp, Closed, HostStarted, Opened, Received, Record, Rejected
from bridge.wire.withheld import NUMBERED, Withheld, lines_withheld

MAX_TRIES = 3
RETRY_S = 1.0
CALM_S = 1.0
GRACE_S = 0.5  # a board's hello and the state of 32 inputs are through in 0.15 s at 115200 baud

Order = tuple[str, HostLine]
"""A board's name and the line to send it."""


@dataclass(slots=True)
class _Tries:
    """How often something was asked for, and when it is asked for next."""

    due_t: float
    count: int = 0


@dataclass(slots=True)
class _Board:
    name: str
    link: str | None = None
    is_away: bool = True
    heard_t: float = -math.inf
    asked_t: float = -math.inf
    all_asked_t: float = -math.inf
    numbers: Numbering = field(default_factory=Numbering)
    states: _Tries | None = None
    gaps: dict[tuple[int, int], _Tries] = field(default_factory=dict)


class Health:
    """Keeps, board by board, what has to be asked for. A board silent for longer than `lost_after_s` counts as lost."""

    def __init__(self, lost_after_s: float = 6.0) -> None:
        self._lost_after_s = lost_after_s
        self._boards: dict[str, _Board] = {}

    def take(self, record: Record) -> list[Order]:
        """Take the next record; what is to be sent now, in this order."""
        match record:
            case Received(t, link, line):
                return self._heard(t, link, line)
            case Opened(t, link):
                return self._ask_on_return(t, [board for board in self._boards.values() if board.link == link])
            case BoardUp(t, link, name):
                board = self._boards.setdefault(name, _Board(name))
                board.link = link
                return self._ask_on_return(t, [board])
            case BoardDown(_, _, name) if name in self._boards:
                _leave(self._boards[name])
            case Closed(_, link):
                for board in self._boards.values():
                    if board.link == link:
                        _leave(board)
            case Rejected(t, link) if (told := lines_withheld(record)) is not None:
                return self._withheld(t, link, told)
            case HostStarted():
                for board in self._boards.values():
                    _leave(board)
        return []

    def due(self) -> float | None:
        """When it wants to be woken, None while nothing waits."""
        moments = [
            tries.due_t
            for board in self._boards.values()
            for tries in (*board.gaps.values(), board.states)
            if tries is not None and tries.count < MAX_TRIES
        ]
        return min(moments, default=None)

    def wake(self, t: float) -> list[Order]:
        """What is to be sent at this moment because it has been waited for long enough."""
        orders: list[Order] = []
        for board in self._boards.values():
            if board.gaps:
                orders += _again_for_gaps(board, t)
            states = board.states
            if states is not None and states.due_t <= t:
                orders.append(_ask(board, t))
                board.states = _Tries(t + RETRY_S, states.count + 1) if states.count + 1 < MAX_TRIES else None
        return orders

    def _heard(self, t: float, link: str, line: BoardLine) -> list[Order]:
        board = self._boards.setdefault(line.board, _Board(line.board))
        if board.link not in (None, link):
            _leave(board)
        was_away = board.is_away or t - board.heard_t > self._lost_after_s
        board.link, board.is_away, board.heard_t = link, False, t
        if isinstance(line, Edge):
            return []
        is_first = board.numbers.boot is None
        taken = _take(board.numbers, line, t)
        is_new = is_first or taken.new_boot
        if isinstance(line, State):
            board.states = None
        is_coming = isinstance(line, Hello) or t - board.asked_t < RETRY_S
        if is_new:
            board.gaps.clear()
            board.states = _Tries(t + GRACE_S)
        elif was_away and t - board.asked_t >= RETRY_S:
            return self._ask_on_return(t, [board])
        elif was_away:  # it may not have been there yet when it was asked
            board.states = board.states or _Tries(board.asked_t + RETRY_S, 1)
        orders = _again_for_gaps(board, t) if taken.gaps else []
        if is_new and not is_coming:
            orders.append(_ask(board, t))
        return orders

    def _withheld(self, t: float, link: str, told: Withheld) -> list[Order]:
        """Lines came too fast to be kept: their numbers did come, and nobody knows yet how their inputs stand."""
        board = self._boards.setdefault(told.board, _Board(told.board))
        board.link, board.is_away, board.heard_t = link, False, t
        if told.kind != NUMBERED:
            return []
        taken = [board.numbers.take_many(told.boot, first, last, t) for first, last in told.numbers]
        if any(one.new_boot for one in taken):
            board.gaps.clear()
        board.states = _Tries(t + CALM_S)
        return _again_for_gaps(board, t) if any(one.gaps for one in taken) else []

    def _ask_on_return(self, t: float, boards: Iterable[_Board]) -> list[Order]:
        orders: list[Order] = []
        for board in boards:
            if t - board.asked_t < RETRY_S:
                continue
            boot = board.numbers.boot
            if boot is not None:
                missing = _missing(board)
                first = min((first for first, _, _ in missing), default=board.numbers.highest + 1)
                orders.append((board.name, Again(boot, first, 0)))
                board.all_asked_t = t
                board.gaps = {gap: _Tries(t + RETRY_S, 1) for _, _, gap in missing}
            orders.append(_ask(board, t))
            board.states = _Tries(t + RETRY_S, 1)
        return orders


def _ask(board: _Board, t: float) -> Order:
    board.asked_t = t
    return (board.name, Ask())


def _leave(board: _Board) -> None:
    """What was asked for on a way that is gone will not be answered."""
    board.is_away = True
    board.asked_t = board.all_asked_t = -math.inf
    board.states = None
    board.gaps.clear()


def _take(numbers: Numbering, line: Hello | Alive | Report | State, t: float) -> Taken:
    match line:
        case Hello(_, boot, ms):
            return numbers.take("hello", boot, None, t, ms)
        case Alive(_, boot, seq, ms):
            return numbers.take("alive", boot, seq, t, ms)
        case Report(_, boot, seq, ms):
            return numbers.take("report", boot, seq, t, ms)
        case State(_, boot, seq, ms):
            return numbers.take("state", boot, seq, t, ms)


def _missing(board: _Board) -> list[tuple[int, int, tuple[int, int]]]:
    """First, last and the gap they were proved with, of the boot that holds: no other is answered."""
    return [(part.first, part.last, part.gap) for part in board.numbers.missing if part.boot == board.numbers.boot]


def _again_for_gaps(board: _Board, t: float) -> list[Order]:
    """One line for all gaps that are due: a board holds no more than its last 32 reports, so the span costs little."""
    boot = board.numbers.boot
    if boot is None or board.is_away:
        board.gaps.clear()  # nobody answers: left standing they would wake the service at once, for ever
        return []
    missing = _missing(board)
    first_t = max(t, board.all_asked_t + RETRY_S)
    board.gaps = {gap: board.gaps.get(gap) or _Tries(first_t) for _, _, gap in missing}
    due = [part for part in missing if board.gaps[part[2]].due_t <= t and board.gaps[part[2]].count < MAX_TRIES]
    for gap in {gap for _, _, gap in due}:
        board.gaps[gap] = _Tries(t + RETRY_S, board.gaps[gap].count + 1)
    if not due:
        return []
    return [(board.name, Again(boot, min(first for first, _, _ in due), max(last for _, last, _ in due)))]
