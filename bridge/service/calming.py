"""A screaming input, or a link that brings nothing but garbage, held down before it reaches the journal.

Rule: each input may change as fast as any working one does, `BURST` lines and then `A_SECOND`; while it changes faster its
lines are withheld, and so are rejects of a link beyond as many. Nothing is lost sight of: the numbers of withheld lines are
told in one record, which stands before the board's next kept line, so that no gap is seen where there is none, and which is
written within `LONGEST_S`. What has come is acknowledged only once that stands. Only lines of inputs are ever withheld.

Pure: it goes by the times of the records, and by what it is told the time is.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from bridge.links.link import Arrival
from bridge.service.inbox import Item
from bridge.service.pace import CALM_AFTER_S, Key, Paces
from bridge.wire.lines import Edge, Report, State
from bridge.wire.records import Reading, Received, Record, Rejected
from bridge.wire.withheld import (
    EDGE,
    NUMBERED,
    READING,
    Screaming,
    Withheld,
    ranges,
    told_of_lines,
    told_of_rejects,
)

LONGEST_S = 0.05
"""The longest that a withheld line waits to be told of: the record costs as much as a line."""

FOR_A_BYTE = 0.01
"""What a byte of a reject costs of a link's pace, beside the one of the reject itself: rejects may be long."""

Whose = tuple[str, str, str, int]
"""Kind, board, link and boot: what one record can tell of."""


@dataclass(slots=True)
class _Untold:
    """Lines withheld and not told of yet."""

    t: float = 0.0
    numbers: set[int] = field(default_factory=set)
    lines: dict[int, int] = field(default_factory=dict)


class Calming:
    """What stands between the inbox and the desk."""

    def __init__(self) -> None:
        self._paces = Paces()
        self._untold: dict[Whose, _Untold] = {}
        self._rejects: dict[str, dict[str, int]] = {}
        self._rejects_t = 0.0
        self._since_t: float | None = None
        self._last: dict[Key, Reading] = {}
        """The last reading withheld of an adapter's input: such a board cannot be asked."""

    @property
    def owes(self) -> bool:
        """Whether anything withheld has not been told of: nothing may be acknowledged."""
        return self._since_t is not None

    def due(self) -> float | None:
        """When it wants to be asked, though nothing has come (host seconds)."""
        dues = [] if self._since_t is None else [self._since_t + LONGEST_S]
        dues += [reading.t + CALM_AFTER_S for reading in self._last.values()]
        return min(dues, default=None)

    def is_due(self, t: float) -> bool:
        """Whether it is to be asked by host second `t`."""
        due = self.due()
        return due is not None and due <= t

    def sift(self, items: Iterable[Item], t: float, at_once: bool = False) -> list[Item]:
        """What is to be journalled of these at host second `t`; `at_once`: and all that is still to be told."""
        sifted: list[Item] = [self._sifted(item, t) if isinstance(item, Arrival) else item for item in items]
        behind: list[Record] = []
        if self._since_t is not None and (at_once or t >= self._since_t + LONGEST_S):
            behind += self._told()
        behind += self._calmed(t)
        return [*sifted, Arrival(tuple(behind))] if behind else sifted

    def troubles(self, t: float) -> tuple[str, ...]:
        """What is withheld now, each a sentence with its remedy."""
        said = []
        for key, most in self._paces.held(t):
            if len(key) == 1:
                said.append(f"{key[0]} brings {most:,} lines a second that are none: look after the board and its cable.")
            elif key[0] != EDGE:
                said.append(
                    f"Input {key[2]} of board {key[1]} changes {most:,} times a second: its lines are only counted, and "
                    "what it sees is unknown. Look after its wiring."
                )
        return tuple(said)

    def _sifted(self, arrival: Arrival, t: float) -> Arrival:
        kept: list[Record] = []
        for record in arrival.records:
            if self._is_withheld(record):
                self._since_t = t if self._since_t is None else self._since_t
                continue
            if self._untold and isinstance(record, Received) and not isinstance(record.line, Edge):
                kept += self._told(record.line.board)
            kept.append(record)
        return replace(arrival, records=tuple(kept))

    def _is_withheld(self, record: Record) -> bool:
        match record:
            case Received(t, link, Report() | State() as line):
                whose = (NUMBERED, line.board, link, line.boot)
                return self._is_too_fast(whose, line.input, t, line.seq)
            case Received(t, link, Edge() as line):
                return self._is_too_fast((EDGE, line.board, link, 0), line.input, t)
            case Reading(t, link, board, number):
                is_too_fast = self._is_too_fast((READING, board, link, 0), number, t)
                self._last.pop((READING, board, number), None)
                if is_too_fast:
                    self._last[READING, board, number] = record
                return is_too_fast
            case Rejected(t, link, reason, raw):
                if self._paces.take((link,), t, 1.0 + FOR_A_BYTE * len(raw)):
                    return False
                self._rejects_t = t
                reasons = self._rejects.setdefault(link, {})
                reasons[reason] = reasons.get(reason, 0) + 1
                return True
        return False

    def _is_too_fast(self, whose: Whose, number: int, t: float, seq: int | None = None) -> bool:
        kind, board, _, _ = whose
        if self._paces.take((kind, board, number), t):
            return False
        untold = self._untold.setdefault(whose, _Untold())
        untold.t = t
        untold.lines[number] = untold.lines.get(number, 0) + 1
        if seq is not None:
            untold.numbers.add(seq)
        return True

    def _told(self, of_board: str | None = None) -> list[Record]:
        """Word of what was withheld, of one board or all there is."""
        told: list[Record] = []
        for whose in [whose for whose in self._untold if of_board in (None, whose[1])]:
            untold = self._untold.pop(whose)
            kind, board, link, boot = whose
            inputs = tuple(
                Screaming(number, lines, self._paces.a_second((kind, board, number)))
                for number, lines in untold.lines.items()
            )
            told.append(told_of_lines(untold.t, link, Withheld(kind, board, boot, ranges(untold.numbers), inputs)))
        if of_board is None:
            told += [told_of_rejects(self._rejects_t, link, reasons) for link, reasons in self._rejects.items()]
            self._rejects.clear()
        if not self._untold and not self._rejects:
            self._since_t = None
        return told

    def _calmed(self, t: float) -> list[Record]:
        """How inputs stand that are calm by now, where nobody can be asked."""
        said: list[Record] = []
        for key, reading in list(self._last.items()):
            if t >= reading.t + CALM_AFTER_S and self._paces.take(key, t):
                del self._last[key]
                said.append(replace(reading, t=t))
        return said
