"""Numbers that boards used and that never came: derived from the records, so that no loss is overlooked or forgotten.

Rule: each (board, boot, seq) counts once, by the same account that the core and the links keep (`bridge.wire.numbering`).
Duplicates stay in the journal, every arrival of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bridge.core.events import Journalled
from bridge.wire.lines import Alive, Hello, Report, State
from bridge.wire.numbering import Numbering
from bridge.wire.records import Received, Rejected
from bridge.wire.withheld import lines_withheld


@dataclass(frozen=True, slots=True)
class Gap:
    """Numbers `first` to `last` of a board's boot that did not come; proved lost at host second `t`."""

    board: str
    boot: int
    first: int
    last: int
    t: float


def gaps(records: Iterable[Journalled]) -> tuple[Gap, ...]:
    """The gaps of a session that nothing filled, by board and boot in the order in which they were first heard."""
    boards: dict[str, Numbering] = {}
    for journalled in records:
        match journalled.record:
            case Received(t, _, Alive() | Report() | State() as line):
                kind = type(line).__name__.lower()
                boards.setdefault(line.board, Numbering()).take(kind, line.boot, line.seq, t, line.ms)
            case Received(t, _, Hello() as line):
                boards.setdefault(line.board, Numbering()).take("hello", line.boot, None, t, line.ms)
            case Rejected(t) as record if (told := lines_withheld(record)) is not None:
                for first, last in told.numbers:
                    boards.setdefault(told.board, Numbering()).take_many(told.boot, first, last, t)
    return tuple(
        Gap(board, part.boot, part.first, part.last, part.t) for board, numbers in boards.items() for part in numbers.missing
    )
