"""What is known of a board and of a link, as values that the roll writes and others read.

Rule: a board's numbers and clocks are its own; nothing in here says what an input means.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.conditioning.board_clock import BoardClock
from bridge.wire.numbering import Numbering


@dataclass(slots=True)
class Gap:
    """Numbers proved lost by the line `n` at `t`. `to_state`: inputs that no state line has told of since."""

    boot: int
    first: int
    last: int
    t: float
    n: int
    to_state: set[int]
    overdue: bool = False


@dataclass(slots=True)
class BoardNow:
    """One board.

    `link`: over which it was last heard. `lost_since`: host seconds of its last sign. `why`: what it is lost for.
    `last_t`, `last_n`: its last sign. `rejected`: bytes that were no line, on a link that is its own. `unnumbered`: a
    reading of it came through an adapter. `numbered`: a line of it came. `inputs`: as its hello told. `told`: its optional
    keys as last told. `odd_inputs`: inputs that were said to be unknown or unfit. `to_state`: inputs not yet stated since
    its port was opened. `clocks` by boot; `gaps` by (boot, first, last), until filled or both overdue and stated since.
    """

    id: str
    link: str | None = None
    heard: bool = False
    lost: bool = False
    lost_since: float | None = None
    why: str | None = None
    last_t: float | None = None
    last_n: int | None = None
    rejected: int = 0
    unnumbered: bool = False
    numbered: bool = False
    inputs: int | None = None
    told: dict[str, str] = field(default_factory=dict)
    odd_inputs: dict[int, None] = field(default_factory=dict)
    to_state: set[int] = field(default_factory=set)
    numbering: Numbering = field(default_factory=Numbering)
    clocks: dict[int, BoardClock] = field(default_factory=dict)
    gaps: dict[tuple[int, int, int], Gap] = field(default_factory=dict)

    @property
    def boot(self) -> int | None:
        """The boot that holds, None before any line."""
        return self.numbering.boot

    @property
    def clock(self) -> BoardClock | None:
        """The clock of the boot that holds."""
        return None if self.boot is None else self.clocks.get(self.boot)

    @property
    def missing(self) -> int:
        """How many numbers are proved lost and have not come since."""
        return sum(row.last - row.first + 1 for row in self.numbering.missing)


@dataclass(slots=True)
class LinkNow:
    """One port or broker.

    `open`: None where neither opened nor closed was said; `hello`: one came since it opened; `rejected`: how many, by
    reason; `boards`: whose last sign came over it.
    """

    open: bool | None = None
    hello: bool = False
    last_t: float | None = None
    rejected: dict[str, int] = field(default_factory=dict)
    boards: dict[str, None] = field(default_factory=dict)
