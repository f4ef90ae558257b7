"""How the boards and links fared in a session, counted from the journal alone.

Rule: a loss is told only where numbers prove it. Numbers before the first heard of a board's first start are no loss,
those of a later start are; readings through an adapter carry no number, so nothing can be said of their losses. Lines of
an input that screamed are counted by the record that tells of them, and their numbers came.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.core.events import Journalled
from bridge.wire.lines import Alive, Edge, Hello, Report, State
from bridge.wire.records import Closed, HostStarted, Opened, Reading, Received, Rejected
from bridge.wire.withheld import Range, lines_withheld, rejects_withheld


@dataclass(slots=True)
class BoardHealth:
    """One board. `missing` numbers never came, `late` came after higher ones, `again` came twice; `silence_s` is the longest
    time between two lines while the service ran; `screamed` are inputs that changed too fast to be kept, and their lines."""

    id: str
    links: set[str] = field(default_factory=set)
    lines: int = 0
    starts: int = 0
    missing: int = 0
    late: int = 0
    again: int = 0
    unnumbered: int = 0
    silence_s: float = 0.0
    screamed: Counter[int] = field(default_factory=Counter)


@dataclass(slots=True)
class LinkHealth:
    """One port or broker: how often it was opened and lost, and how many times bytes were no line, by reason."""

    id: str
    opened: int = 0
    lost: int = 0
    rejected: Counter[str] = field(default_factory=Counter)


class _Numbers:
    """The numbers of one start of a board: which came, from where they count (None: the first heard will say), and the
    highest that must exist."""

    def __init__(self, first: int | None) -> None:
        self.first = first
        self.highest = 0
        self.came: set[int] = set()
        self.together: list[Range] = []

    def take_many(self, first: int, last: int) -> None:
        if self.first is None:
            self.first, self.highest = first, first - 1
        if self.together and first == self.together[-1][1] + 1:
            self.together[-1] = (self.together[-1][0], last)
        else:
            self.together.append((first, last))
        self.highest = max(self.highest, last)

    def missing(self) -> int:
        if self.first is None:
            return 0
        behind, known = self.first - 1, 0
        for first, last in sorted([*self.together, *((seq, seq) for seq in self.came)]):
            known += max(0, last - max(behind, first - 1))
            behind = max(behind, last)
        return self.highest - self.first + 1 - known


def health(boards: Iterable[str], records: Iterable[Journalled]) -> tuple[tuple[BoardHealth, ...], tuple[LinkHealth, ...]]:
    """Every board of the plant, then others heard, in order of name; and every link."""
    kept = _Count(boards)
    for journalled in records:
        kept.take(journalled)
    return kept.result()


class _Count:
    def __init__(self, boards: Iterable[str]) -> None:
        self.boards = {board: BoardHealth(board) for board in boards}
        self.plant = len(self.boards)
        self.links: dict[str, LinkHealth] = {}
        self.numbers: dict[tuple[str, int], _Numbers] = {}
        self.heard: dict[str, float] = {}

    def take(self, journalled: Journalled) -> None:
        record = journalled.record
        match record:
            case Received():
                self._received(record)
            case Reading():
                board = self._heard(record.board, record.link, record.t)
                board.unnumbered += 1
            case Rejected():
                self._rejected(record)
            case Opened():
                self._link(record.link).opened += 1
            case Closed():
                self._link(record.link).lost += 1
            case HostStarted():
                self.heard.clear()
            case _:
                pass

    def _link(self, link: str) -> LinkHealth:
        return self.links.setdefault(link, LinkHealth(link))

    def _heard(self, name: str, link: str, t: float) -> BoardHealth:
        board = self.boards.setdefault(name, BoardHealth(name))
        board.links.add(link)
        board.lines += 1
        board.silence_s = max(board.silence_s, t - self.heard.get(name, t))
        self.heard[name] = t
        return board

    def _rejected(self, record: Rejected) -> None:
        told = lines_withheld(record)
        if told is None:
            many = rejects_withheld(record)
            self._link(record.link).rejected.update({record.reason: 1} if many is None else many)
            return
        board = self._heard(told.board, record.link, record.t)
        for row in told.inputs:
            board.lines += row.lines
            board.screamed[row.input] += row.lines
        board.lines -= 1  # the record itself is none
        for first, last in told.numbers:
            self._numbers(board, told.boot).take_many(first, last)

    def _numbers(self, board: BoardHealth, boot: int) -> _Numbers:
        numbers = self.numbers.get((board.id, boot))
        if numbers is None:
            numbers = self.numbers[board.id, boot] = _Numbers(None if board.starts == 0 else 1)
            board.starts += 1
        return numbers

    def _received(self, record: Received) -> None:
        line = record.line
        board = self._heard(line.board, record.link, record.t)
        if isinstance(line, Edge):
            return
        numbers = self._numbers(board, line.boot)
        if not isinstance(line, Hello):
            self._count(board, numbers, line)

    def _count(self, board: BoardHealth, numbers: _Numbers, line: Alive | Report | State) -> None:
        if numbers.first is None:
            numbers.first = line.seq + 1 if isinstance(line, Alive) else line.seq
            numbers.highest = numbers.first - 1
        if isinstance(line, Report | State):
            if line.seq in numbers.came:
                board.again += 1
            elif line.seq >= numbers.first:
                board.late += line.seq <= numbers.highest
                numbers.came.add(line.seq)
        numbers.highest = max(numbers.highest, line.seq)

    def result(self) -> tuple[tuple[BoardHealth, ...], tuple[LinkHealth, ...]]:
        for (name, _), numbers in self.numbers.items():
            self.boards[name].missing += numbers.missing()
        listed = list(self.boards.values())
        known, others = listed[: self.plant], listed[self.plant :]
        ordered = (*known, *sorted(others, key=lambda board: board.id))
        return ordered, tuple(sorted(self.links.values(), key=lambda link: link.id))
