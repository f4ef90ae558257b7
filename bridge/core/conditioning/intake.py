"""From what reached the host to what was observed: every journalled event goes through here first.

Rule: pure, and part of the fold's state: the same events and deadlines give the same observations. The cost of a line
does not grow with the plant. What operators say passes by.
"""

from __future__ import annotations

from bridge.core.conditioning.board_clock import BoardClock
from bridge.core.conditioning.boards import BoardNow, LinkNow
from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.conditioning.detectors import DetectorNow, Detectors
from bridge.core.conditioning.power import Power
from bridge.core.conditioning.roll import Roll
from bridge.core.conditioning.values import BoardChange, Conditioned, Evidence, Late, Observation
from bridge.core.events import Journalled
from bridge.core.plant import Plant
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Report, State
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Reading,
    Received,
    Rejected,
    Said,
)
from bridge.wire.withheld import EDGE, NUMBERED, READING, Withheld, lines_withheld, rejects_withheld

DELAYED_S = 0.15  # a wire takes some milliseconds, a radio tens of them: common practice, no source
MOST_DELAYED_S = 6.0  # beyond that it is likelier that the board's clock has stood still for a while


class Conditioning:
    """What boards and detectors have said, and what of it holds."""

    def __init__(self, plant: Plant) -> None:
        self._observations: list[Observation] = []
        self._changes: list[BoardChange] = []
        self._late: list[Late] = []
        self._repeated = False
        self._deadlines = Deadlines()
        self._detectors = Detectors(plant, self._deadlines, self._observations)
        self._roll = Roll(plant, self._detectors, self._deadlines, self._changes)
        self._power = Power(plant, plant.limits.get("trip_for", 60.0), self._detectors, self._deadlines)
        self._down = False
        self._stopped_t = self._started_t = 0.0
        self.detectors: dict[str, DetectorNow] = {name: row.now for name, row in self._detectors.inputs.items()}

    @property
    def is_down(self) -> bool:
        """True between a stop of the service and its next start: no deadline passes."""
        return self._down

    @property
    def boards(self) -> dict[str, BoardNow]:
        """Every board that the folder names."""
        return self._roll.boards

    @property
    def strangers(self) -> dict[str, BoardNow]:
        """Boards that were heard and that the folder does not name."""
        return self._roll.strangers

    @property
    def links(self) -> dict[str, LinkNow]:
        """Every link of which something was heard."""
        return self._roll.links

    def begin(self, t: float) -> Conditioned:
        """The session begins at host second `t`: boards that have never been heard are missed from here."""
        self._roll.begin(t)
        return self._drain()

    def due(self) -> float | None:
        """When `pass_deadline` wants to be called, None where nothing waits or the service is stopped."""
        return None if self._down else self._deadlines.first()

    def take(self, event: Journalled) -> Conditioned:
        """Take one event. Deadlines at or before it must have been passed."""
        n, record = event.n, event.record
        match record:
            case Received(t, link, line):
                self._line(n, t, link, line)
            case Reading():
                self._reading(n, record)
            case Rejected():
                self._rejected(n, record)
            case Opened(t, link):
                self._roll.opened(link, n, t)
            case Closed(t, link):
                self._roll.closed(link, n, t)
            case BoardUp(t, link, board):
                self._roll.up(board, link, n, t)
            case BoardDown(t, link, board):
                self._roll.down(board, link, n, t)
            case HostStopped(t):
                self._down, self._stopped_t = True, t
            case HostStarted(t):
                self._down, self._started_t = False, t
                self._roll.begin_anew(n, t)
                self._power.begin_anew(t)
            case Said():
                pass
        return self._drain()

    def until(self, late: Late, t: float) -> Conditioned:
        """What evidence of the past, placed at host second `t` while the service was down, tells of the time before: nothing
        else had happened on its board."""
        if self._down and late.whole:
            for row in self._detectors.of_board[late.line.board].values():
                self._detectors.settle_lasting(row, t)
        return self._drain()

    def place(self, late: Late, t: float) -> Conditioned:
        """Take evidence of the past where it belongs, at host second `t`: what it says of its input, and nothing else."""
        board, line = self._roll.boards[late.line.board], late.line
        of_this_boot = board.boot == line.boot
        happened_t = min(t, late.happened_t)
        seen = Evidence(late.n, t, happened_t, moves=True, order=late.order, follows=False, of_this_boot=of_this_boot)
        self._apply(board, line.input, line.value, seen)
        return self._drain()

    def pass_deadline(self, t: float) -> Conditioned:
        """All deadlines at or before host second `t`, each at its own time."""
        while not self._down and (due := self._deadlines.pop(t)) is not None:
            moment, (kind, subject, one, two) = due
            if kind == "clear":
                self._detectors.settle(self._detectors.inputs[subject], moment)
            elif kind == "silent":
                self._roll.silent(subject, moment)
            elif kind == "gap":
                self._roll.gap_due(subject, one, two, moment)
            elif kind == "power":
                self._power.release(subject, moment)
            else:
                self._power.pass_trip(one, moment)
        return self._drain()

    def mute(self, detector: str, t: float, n: int | None) -> Conditioned:
        """A detector counts as unknown from here. Raises KeyError where there is none of this id."""
        return self._set_muted(detector, True, t, n)

    def unmute(self, detector: str, t: float, n: int | None) -> Conditioned:
        """A detector counts again, as last reported. Raises KeyError where there is none of this id."""
        return self._set_muted(detector, False, t, n)

    def looked(self, detector: str, t: float) -> Conditioned:
        """Somebody has looked at a track: it is as last reported, whatever it was taken for. KeyError as `mute`."""
        self._power.looked(self._detectors.inputs[detector], t)
        return self._drain()

    def _set_muted(self, detector: str, muted: bool, t: float, n: int | None) -> Conditioned:
        row = self._detectors.inputs[detector]
        self._power.looked(row, t)
        row.now.muted = muted
        seen = Evidence(n, t, t)
        self._detectors.show(row, seen)
        self._power.mute(row, seen)
        return self._drain()

    def _line(self, n: int, t: float, link: str, line: BoardLine) -> None:
        board = self._roll.sign(line.board, link, n, t, numbered=True)
        if board is None or isinstance(line, Edge):
            return
        taken = self._roll.count(board, line, n, t)
        holds = board.boot == line.boot
        clock = self._roll.clock(board, line.boot)
        whole_ms = clock.hear(line.ms, t, isinstance(line, Hello))
        if isinstance(line, Hello | Alive):
            self._roll.note(board, line.extra)
            if isinstance(line, Hello) and holds:
                self._roll.greet(board, line, n, t)
            return
        stated = isinstance(line, State)
        self._repeated = not taken.fresh
        if not taken.fresh or (stated and not holds):
            return
        happened_t = clock.happened_t(whole_ms, t)
        if isinstance(line, Report) and (taken.late or taken.filled is not None or self._is_delayed(clock, happened_t, t)):
            self._late.append(Late(n, t, happened_t, (whole_ms, line.seq), line, whole=not board.missing))
            return
        seen = Evidence(
            n,
            t,
            happened_t,
            moves=not stated,
            stated=stated,
            order=(whole_ms, line.seq),
            follows=line.seq >= board.numbering.highest,
            of_this_boot=holds,
        )
        self._apply(board, line.input, line.value, seen)
        if stated:
            self._roll.state_line(board, line.input, n, t)

    def _reading(self, n: int, reading: Reading) -> None:
        """A reading through an adapter: as a report, but without a number or a clock of its own."""
        t = reading.t
        board = self._roll.sign(reading.board, reading.link, n, t, numbered=False)
        if board is not None:
            self._apply(board, reading.input, reading.value, Evidence(n, t, t, moves=True))

    def _rejected(self, n: int, record: Rejected) -> None:
        """Bytes that were no line, or word of lines that came too fast to be kept one by one."""
        told = lines_withheld(record)
        if told is not None:
            self._withheld(n, record.t, record.link, told)
            return
        many = rejects_withheld(record)
        for reason, count in ({record.reason: 1} if many is None else many).items():
            self._roll.rejected(record.link, reason, record.t, count)

    def _withheld(self, n: int, t: float, link: str, told: Withheld) -> None:
        """Lines of screaming inputs: their numbers came, and how these inputs stand is not known until a line tells."""
        board = self._roll.sign(told.board, link, n, t, numbered=told.kind != READING)
        if board is None or told.kind == EDGE:
            return
        if told.kind == NUMBERED:
            self._roll.count_many(board, told, n, t)
            if board.boot != told.boot:
                return
        for screaming in told.inputs:
            row = self._detectors.of_board[board.id].get(screaming.input)
            if row is not None:
                why = f"it changes {screaming.a_second:,} times a second"
                self._detectors.count(row, t, screaming.lines)
                self._detectors.forget(row, why, n, t, withheld=True)

    def _apply(self, board: BoardNow, number: int, value: str, seen: Evidence) -> None:
        """One value of one input, whatever brought it."""
        row = self._detectors.of_board[board.id].get(number)
        if row is None:
            self._roll.odd(board, number, "unknown_input", None, seen)
            return
        newest = seen.of_this_boot and (seen.follows or row.mark is None or seen.order >= row.mark.order)
        if not self._detectors.take(row, value, seen, newest):
            self._roll.odd(board, number, "unfit_value", value, seen)
        elif newest:
            self._power.look(row, seen)

    def _is_delayed(self, clock: BoardClock, happened_t: float, t: float) -> bool:
        """True where a clock that has been watched for long enough tells that a report was on its way for long, the time in
        which the service was down not counted."""
        if not clock.is_settled or t - happened_t <= DELAYED_S:
            return False
        down_s = max(0.0, self._started_t - max(self._stopped_t, happened_t))
        return t - down_s - happened_t <= MOST_DELAYED_S

    def _drain(self) -> Conditioned:
        changed = tuple(self._detectors.changed)
        said = Conditioned(tuple(self._observations), tuple(self._changes), tuple(self._late), self._repeated, changed)
        self._observations.clear()
        self._changes.clear()
        self._late.clear()
        self._detectors.changed.clear()
        self._repeated = False
        return said
