"""The roll of boards and links, kept by every line: who was heard, who is lost, whose numbers are missing.

Rule: a board is lost when no line of it has come for `board_lost_after`, or its link says down, until its next line; an
adapter's board, whose readings carry no numbers and come when they like, by its link's own word, or when that link has been
closed for as long. What comes of it for the inputs is told to `Detectors`; what an input means is not known here.
"""

from __future__ import annotations

from bridge.core.conditioning.board_clock import BoardClock
from bridge.core.conditioning.boards import BoardNow, Gap, LinkNow
from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.conditioning.detectors import Detectors
from bridge.core.conditioning.values import BoardChange, Evidence
from bridge.core.plant import Plant
from bridge.wire.lines import Alive, Hello, Report, State
from bridge.wire.numbering import MAX_BOOTS, Taken
from bridge.wire.withheld import Withheld

MAX_STRANGERS = 64
MAX_LINKS = 64  # beyond those of the folder's boards
MAX_GAPS = 256
MAX_TOLD = 32

STOOD_STILL = "not heard since the service started or this computer woke"


class Roll:
    """Every board and link; what is news goes to `said`."""

    def __init__(self, plant: Plant, detectors: Detectors, deadlines: Deadlines, said: list[BoardChange]) -> None:
        self._plant = plant
        self._detectors = detectors
        self._deadlines = deadlines
        self._said = said
        self._lost_after_s = plant.limits.get("board_lost_after", 6.0)
        self._reports_lost_after_s = plant.limits.get("reports_lost_after", 5.0)
        self._begun_t: float | None = None
        self.boards = {board: BoardNow(board) for board in plant.boards}
        self.strangers: dict[str, BoardNow] = {}
        self.links: dict[str, LinkNow] = {}

    def begin(self, t: float) -> None:
        """The session began: from here a board that has never been heard is missed."""
        self._begun_t = t
        for board in self.boards.values():
            if not board.heard:
                self._deadlines.set("silent", board.id, t + self._lost_after_s)

    def link(self, name: str) -> LinkNow:
        """A link, made known where it is new; one too many gives up the oldest over which no board speaks."""
        if name not in self.links and len(self.links) >= MAX_LINKS + len(self.boards):
            idle = (link for link, now in self.links.items() if not now.boards)
            del self.links[next(idle, next(iter(self.links)))]
        return self.links.setdefault(name, LinkNow())

    def sign(self, name: str, link: str, n: int, t: float, numbered: bool) -> BoardNow | None:
        """A sign of a board came over a link; None where the folder does not name the board.

        `numbered`: a line of the board's own, so that the next is due soon; else an adapter's reading or word.
        """
        now = self.link(link)
        now.last_t = t
        board = self.boards.get(name)
        if board is None:
            self._stranger(name, link, n, t)
            return None
        if name not in now.boards:
            self._move(board, link)
            self._welcome(board, n, t)
        board.numbered |= numbered
        board.unnumbered |= not numbered
        if board.numbered:
            self._deadlines.set("silent", name, t + self._lost_after_s)
        else:
            self._deadlines.drop("silent", name)
        since_t, board.last_t, board.last_n = board.lost_since, t, n
        if not board.heard:
            board.heard = True
            self._say("heard", board, t, n)
        if board.lost:
            board.lost, board.lost_since, board.why = False, None, None
            self._say("back", board, t, n, since_t=since_t)
        self._wait_for_hello(board)
        return board

    def count(self, board: BoardNow, line: Hello | Alive | Report | State, n: int, t: float) -> Taken:
        """Count a line's number, and say what that proves."""
        kind = type(line).__name__.lower()
        seq = None if isinstance(line, Hello) else line.seq
        taken = board.numbering.take(kind, line.boot, seq, t, line.ms)
        self._tell(board, line.boot, taken, n, t)
        return taken

    def count_many(self, board: BoardNow, told: Withheld, n: int, t: float) -> None:
        """Count the numbers of lines that were not kept one by one, as `count` does."""
        for first, last in told.numbers:
            self._tell(board, told.boot, board.numbering.take_many(told.boot, first, last, t), n, t)

    def clock(self, board: BoardNow, boot: int) -> BoardClock:
        """The clock of one boot of a board."""
        if boot not in board.clocks:
            board.clocks[boot] = BoardClock()
            if len(board.clocks) > MAX_BOOTS:
                del board.clocks[next(iter(board.clocks))]
        return board.clocks[boot]

    def greet(self, board: BoardNow, hello: Hello, n: int, t: float) -> None:
        """A hello: what its port's opening had made unknown is known again."""
        board.inputs = hello.inputs
        if board.link is not None:
            self.link(board.link).hello = True
        self._welcome(board, n, t)

    def note(self, board: BoardNow, told: tuple[tuple[str, str], ...]) -> None:
        """Keep the optional keys of a hello or alive."""
        for key, text in told:
            if key in board.told or len(board.told) < MAX_TOLD:
                board.told[key] = text

    def state_line(self, board: BoardNow, number: int, n: int, t: float) -> None:
        """An input of the boot that holds was stated."""
        for gap in list(board.gaps.values()):
            gap.to_state.discard(number)
            if gap.overdue and not gap.to_state:
                self._restate(board, gap, n, t)
        board.to_state.discard(number)
        if not board.to_state:
            self._welcome(board, n, t)

    def odd(self, board: BoardNow, number: int, kind: str, why: str | None, seen: Evidence) -> None:
        """A line of an input that the folder does not name, or that cannot have this value: said once an input."""
        if number not in board.odd_inputs and len(board.odd_inputs) < MAX_TOLD:
            board.odd_inputs[number] = None
            self._say(kind, board, seen.t, seen.n, why=why, input=number)

    def rejected(self, link: str, reason: str, t: float, count: int) -> None:
        """Bytes that were no line are counted against their link, and against its board where it has but one."""
        now = self.link(link)
        now.last_t = t
        now.rejected[reason] = now.rejected.get(reason, 0) + count
        if len(now.boards) == 1:
            self.boards[next(iter(now.boards))].rejected += count

    def opened(self, link: str, n: int, t: float) -> None:
        """A port or broker was opened; opening a port may reset its board: unknown until hello."""
        now = self.link(link)
        now.open, now.hello = True, False
        for board in [self.boards[name] for name in now.boards]:
            if self._plant.boards[board.id].link == "serial":
                self._forget(board, "its port was opened just now", n, t)
                self._wait_for_hello(board)

    def closed(self, link: str, n: int, t: float) -> None:
        """A port or broker was lost: the inputs of its boards are unknown at once."""
        now = self.link(link)
        now.open, now.hello = False, False
        for board in [self.boards[name] for name in now.boards]:
            self._forget(board, "its link is closed", n, t)
            if board.heard and not board.numbered and not board.lost:
                self._deadlines.set("silent", board.id, t + self._lost_after_s)

    def up(self, name: str, link: str, n: int, t: float) -> None:
        """A link topic says up: of an adapter's board that is its own word; any other must send a line."""
        board = self.boards.get(name)
        if board is not None:
            if board.link is None:
                self._move(board, link)
            if board.heard and not board.numbered:
                self.sign(name, link, n, t, numbered=False)

    def down(self, name: str, link: str, n: int, t: float) -> None:
        """A link topic says down: lost until the board's next line."""
        board = self.boards.get(name)
        if board is not None:
            if board.link is None:
                self._move(board, link)
            self._deadlines.drop("silent", name)
            self._lose(board, "link down", t if board.last_t is None else board.last_t, n, t)

    def silent(self, name: str, t: float) -> None:
        """The deadline of a board from which nothing came."""
        board = self.boards[name]
        link = None if board.link is None else self.links.get(board.link)
        if not board.heard:
            self._lose(board, "never heard", self._begun_t, None, t)
        else:
            closed = link is not None and link.open is False
            shut = "port closed" if self._plant.boards[name].link == "serial" else "broker lost"
            self._lose(board, shut if closed else "silent", board.last_t, board.last_n, t)

    def gap_due(self, name: str, boot: int, first: int, t: float) -> None:
        """The deadline of a gap: it was not filled in time."""
        board = self.boards[name]
        for key, gap in board.gaps.items():
            if key[:2] == (boot, first):
                gap.overdue = True
                self._say("gap_overdue", board, t, gap.n, boot=boot, first=first, last=gap.last, since_t=gap.t)
                if not gap.to_state:
                    self._restate(board, gap, gap.n, t)
                return

    def begin_anew(self, n: int, t: float) -> None:
        """The service started: earlier observations are stale, deadlines of real time count anew."""
        self._detectors.waiting.clear()
        for link in self.links.values():
            link.open = None
        for board in self.boards.values():
            self._forget(board, STOOD_STILL, n, t)
            for clock in board.clocks.values():
                clock.begin_anew()
            if self._deadlines.waits("silent", board.id):
                self._deadlines.set("silent", board.id, t + self._lost_after_s)
            for gap in board.gaps.values():
                if not gap.overdue:
                    self._deadlines.set("gap", board.id, t + self._reports_lost_after_s, gap.boot, gap.first)

    def _tell(self, board: BoardNow, boot: int, taken: Taken, n: int, t: float) -> None:
        """Say what numbers have proved."""
        if taken.new_boot:
            board.clocks.pop(boot, None)
            for row in self._detectors.of_board[board.id].values():
                self._detectors.forget(row, "its board started again", n, t, boot_too=True)
            self._say("new_boot", board, t, n, boot=boot)
        for first, last in taken.gaps:
            self._open_gap(board, Gap(boot, first, last, t, n, set(self._detectors.of_board[board.id])))
        for first, last in taken.closed:
            if board.gaps.pop((boot, first, last), None) is not None:
                self._deadlines.drop("gap", board.id, boot, first)
                self._say("gap_filled", board, t, n, boot=boot, first=first, last=last)

    def _move(self, board: BoardNow, link: str) -> None:
        """From here the board speaks over this link."""
        if board.link in self.links:
            self.links[board.link].boards.pop(board.id, None)
        board.link = link
        self.link(link).boards[board.id] = None

    def _stranger(self, name: str, link: str, n: int, t: float) -> None:
        board = self.strangers.get(name)
        if board is None and len(self.strangers) < MAX_STRANGERS:
            board = self.strangers[name] = BoardNow(name, heard=True)
            self._say("stranger", board, t, n)
        if board is not None:
            board.link, board.last_t, board.last_n = link, t, n

    def _wait_for_hello(self, board: BoardNow) -> None:
        """Over a port that was opened, a board waits until it has said hello, or has stated every input."""
        link = None if board.link is None else self.links.get(board.link)
        waits = link is not None and link.open is True and not link.hello
        if waits and self._plant.boards[board.id].link == "serial" and board.id not in self._detectors.waiting:
            self._detectors.waiting[board.id] = None
            board.to_state = set(self._detectors.of_board[board.id])

    def _welcome(self, board: BoardNow, n: int, t: float) -> None:
        if board.id in self._detectors.waiting:
            del self._detectors.waiting[board.id]
            for row in self._detectors.of_board[board.id].values():
                mark = row.mark  # what was reported before the hello happened all the same
                moves = mark is not None and mark.moves and row.now.raw is not None
                self._detectors.show(row, Evidence(n if mark is None else mark.n, t, t, moves=moves))

    def _forget(self, board: BoardNow, why: str, n: int | None, t: float) -> None:
        for row in self._detectors.of_board[board.id].values():
            self._detectors.forget(row, why, n, t)

    def _lose(self, board: BoardNow, why: str, since_t: float | None, n: int | None, t: float) -> None:
        if not board.lost:
            board.lost, board.lost_since, board.why = True, since_t, why
            self._forget(board, "its board is lost", n, t)
            self._say("lost", board, t, n, since_t=since_t, why=why)

    def _open_gap(self, board: BoardNow, gap: Gap) -> None:
        board.gaps[(gap.boot, gap.first, gap.last)] = gap
        if len(board.gaps) > MAX_GAPS:
            oldest = board.gaps.pop(next(iter(board.gaps)))
            self._deadlines.drop("gap", board.id, oldest.boot, oldest.first)
        self._deadlines.set("gap", board.id, gap.t + self._reports_lost_after_s, gap.boot, gap.first)
        self._say("gap", board, gap.t, gap.n, boot=gap.boot, first=gap.first, last=gap.last, since_t=gap.t)

    def _restate(self, board: BoardNow, gap: Gap, n: int, t: float) -> None:
        del board.gaps[(gap.boot, gap.first, gap.last)]
        self._detectors.doubt(board.id, t)
        self._say("restated", board, t, n, boot=gap.boot, first=gap.first, last=gap.last, since_t=gap.t)

    def _say(self, kind: str, board: BoardNow, t: float, n: int | None, **keys: int | float | str | None) -> None:
        self._said.append(BoardChange(kind, board.id, t, n, **keys))  # type: ignore[arg-type]
