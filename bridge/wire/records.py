"""Everything that reaches the host, as values: what one line of a capture file, or one row of the journal, holds.

Rule: a record carries its own time and nothing that could not be read back from a capture. `t` is seconds on the host's
monotonic clock, rounded to 6 decimals, never running back from one record to the next.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.wire.lines import BoardLine


@dataclass(frozen=True, slots=True)
class Received:
    """A board line received over a link."""

    t: float
    link: str
    line: BoardLine


@dataclass(frozen=True, slots=True)
class Rejected:
    """Bytes received over a link that were no line. `reason` is a `RejectReason` word (kept as text: captures are old)."""

    t: float
    link: str
    reason: str
    raw: bytes


@dataclass(frozen=True, slots=True)
class Opened:
    """A port or broker was opened."""

    t: float
    link: str


@dataclass(frozen=True, slots=True)
class Closed:
    """A port or broker was lost."""

    t: float
    link: str


@dataclass(frozen=True, slots=True)
class BoardUp:
    """A board's link topic said up."""

    t: float
    link: str
    board: str


@dataclass(frozen=True, slots=True)
class BoardDown:
    """A board's link topic said down."""

    t: float
    link: str
    board: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading through an adapter, without a number; values as in `Report`."""

    t: float
    link: str
    board: str
    input: int
    value: str


@dataclass(frozen=True, slots=True)
class HostStarted:
    """The service started: earlier observations are stale from here."""

    t: float


@dataclass(frozen=True, slots=True)
class HostStopped:
    """The service stopped."""

    t: float


@dataclass(frozen=True, slots=True)
class Said:
    """What an operator told; `who` where that is known."""

    t: float
    who: str | None
    words: str


Record = Received | Rejected | Opened | Closed | BoardUp | BoardDown | Reading | HostStarted | HostStopped | Said
