"""The board lines as values: what one line says, once its bytes have been judged.

Rule: a value here is always well formed. Bytes that are no line become a `Reject`, never an exception and never a half
filled line. Units: `ms` board milliseconds and `us` board microseconds, both 32 bits and wrapping; `seq` counts from 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class RejectReason(StrEnum):
    """Why bytes were no board line, or why one does not count. The word is what the journal and a capture keep.

    `same-name`: a good line of a board whose name is spoken on two ports at once.
    """

    BAD_SUM = "bad-sum"
    NO_SUM = "no-sum"
    TOO_LONG = "too-long"
    NOT_ASCII = "not-ascii"
    UNKNOWN_WORD = "unknown-word"
    BAD_FIELD = "bad-field"
    RETAINED = "retained"
    WRONG_BOARD = "wrong-board"
    SAME_NAME = "same-name"


@dataclass(frozen=True, slots=True)
class Reject:
    """Bytes that were no line, and why."""

    reason: RejectReason
    raw: bytes


@dataclass(frozen=True, slots=True)
class Hello:
    """A board names itself: after its start, and whenever asked."""

    board: str
    boot: int
    ms: int
    inputs: int
    extra: tuple[tuple[str, str], ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Alive:
    """A board is there; `seq` is the last number it used (0 before any)."""

    board: str
    boot: int
    seq: int
    ms: int
    extra: tuple[tuple[str, str], ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Report:
    """Something happened at an input. `value` is "on", "off" or "tag=" and upper-case hexadecimal digits."""

    board: str
    boot: int
    seq: int
    ms: int
    input: int
    value: str


@dataclass(frozen=True, slots=True)
class State:
    """How an input stands now; it never makes a movement. Values as in `Report`."""

    board: str
    boot: int
    seq: int
    ms: int
    input: int
    value: str


@dataclass(frozen=True, slots=True)
class Edge:
    """One undebounced edge of a watched input, unnumbered. `value` is "on" or "off"."""

    board: str
    boot: int
    us: int
    input: int
    value: str


@dataclass(frozen=True, slots=True)
class Ask:
    """Host to board: say hello, then the state of every input."""


@dataclass(frozen=True, slots=True)
class Again:
    """Host to board: send these numbers of this boot once more (`last` 0: to the newest)."""

    boot: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Watch:
    """Host to board: send every edge of this input for so many seconds."""

    input: int
    seconds: int


BoardLine = Hello | Alive | Report | State | Edge
HostLine = Ask | Again | Watch
Line = BoardLine | HostLine
