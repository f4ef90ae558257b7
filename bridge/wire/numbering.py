"""One board's numbers: which lines are new, which repeat, which come late, and which are proved lost.

Rule: each (boot, seq) counts once, however often and in whatever order it arrives; a number is missing from the moment that
a later one, or an `alive`, proves that it was used. Memory is bounded: of each boot the highest number and the ranges
missing below it (`MAX_RANGES` of them, the oldest given up first), the clock in its last `MAX_HELLOS` hellos, and
`MAX_BOOTS` boots.

What the contract leaves open, and how it is read here. A boot may be a random number, so any number that is not known is a
new boot. Lines of a boot that is over are accepted once and are late; that boot holds again only when it says `hello` or
`alive` while the present one has been silent for `SILENT_S`. A `hello` of the present boot whose milliseconds have gone back
by `BACK_MS` is a start under the same number (a badly seeded random number): it counts as a new boot. But a broker that was
killed may bring lines of minutes ago once more, and those neither start a boot nor bring one back: a `hello` that was heard
before starts one only once a further line shows that the board's clock goes on from there as time does; what came in between
is asked for again. Two `alive` on end, each newer than everything heard, that tell of fewer numbers than were received prove
the higher ones to be damage that slipped through the checksum: they are withdrawn, else all that follows would be late.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import dataclass, field

MAX_RANGES = 256
MAX_BOOTS = 8
MAX_HELLOS = 64
PROOF_S = 1.5  # the next `alive` comes within 2 s; a broker brings minutes of old lines within a fraction of that
SILENT_S = 3.0  # a board says `alive` every 2 s
BACK_MS = 5000

_NONE: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """What one line's number says. `gaps` and `closed` are (first, last) of the line's own boot.

    `fresh`: it counts, for it is heard for the first time (always so without a number). `late`: its number is below the
    highest received of its boot, or its boot is over. `gaps`: newly proved lost. `filled`: the line's own number, where it
    had been proved lost. `closed`: gaps, as they were first proved, of which nothing is missing any more.
    """

    fresh: bool
    late: bool
    new_boot: bool
    gaps: tuple[tuple[int, int], ...] = _NONE
    filled: int | None = None
    closed: tuple[tuple[int, int], ...] = _NONE


@dataclass(frozen=True, slots=True)
class Missing:
    """Numbers of one boot not received; `t` is the host second when the gap was proved, `gap` the range proved then."""

    boot: int
    first: int
    last: int
    t: float
    gap: tuple[int, int]


@dataclass(slots=True)
class _Range:
    """Numbers not received; `t` None where that is no loss (before the first heard of the first boot)."""

    first: int
    last: int
    t: float | None
    gap: tuple[int, int]


@dataclass(slots=True)
class _Boot:
    """One boot's numbers: `highest` received, `used` up to which numbers are accounted for, `open` what is missing.

    `hellos`: the board's clock in those heard. `doubted`: when, and with which clock, one of them came once more.
    """

    number: int
    first: bool
    highest: int = 0
    used: int = 0
    doubts: int = 0
    numbered: bool = False
    ms: int | None = None
    last_t: float = 0.0
    hellos: deque[int] = field(default_factory=lambda: deque(maxlen=MAX_HELLOS))
    doubted: tuple[float, int] | None = None
    open: list[_Range] = field(default_factory=list)


class Numbering:
    """The numbers of one board in one session."""

    def __init__(self) -> None:
        self._boots: dict[int, _Boot] = {}
        self._now: _Boot | None = None

    @property
    def boot(self) -> int | None:
        """The boot that holds, None before any line."""
        return None if self._now is None else self._now.number

    @property
    def highest(self) -> int:
        """The highest number received of the boot that holds, 0 before any."""
        return 0 if self._now is None else self._now.highest

    @property
    def missing(self) -> tuple[Missing, ...]:
        """What is proved lost and has not come since, of boots in the order first heard, numbers ascending."""
        return tuple(
            Missing(boot.number, gap.first, gap.last, gap.t, gap.gap)
            for boot in self._boots.values()
            for gap in boot.open
            if gap.t is not None
        )

    def knows(self, boot: int) -> bool:
        """Whether lines of this boot have been heard."""
        return boot in self._boots

    def take(self, kind: str, boot: int, seq: int | None, t: float, ms: int | None = None) -> Taken:
        """Take one line: `kind` "report", "state", "alive" or "hello"; `seq` its number, None for a `hello`.

        `t` is host seconds; `ms` the line's board time, without which a start under the same number and damaged numbers go
        unnoticed.
        """
        book, new_boot = self._book(kind, boot, t, ms)
        over = book is not self._now
        newest = _advance(book, ms)
        book.last_t = t
        if kind == "hello" and ms is not None and ms not in book.hellos:
            book.hellos.append(ms)
        if seq is None:
            return Taken(True, over, new_boot)
        if kind == "alive":
            closed = _doubt(book, seq) if newest else _NONE
            return Taken(True, over, new_boot, _account(book, seq, t), None, closed)
        late = over or (kind == "report" and seq < book.highest)
        if seq <= book.used:
            at = _find(book, seq)
            if at is None:
                return Taken(False, late, new_boot)
            lost = book.open[at].t is not None
            closed = _fill(book, at, seq)
            book.highest = max(book.highest, seq)
            return Taken(True, late, new_boot, _NONE, seq if lost else None, closed)
        gaps = _account(book, seq - 1, t)
        book.used = book.highest = seq
        return Taken(True, late, new_boot, gaps)

    def take_many(self, boot: int, first: int, last: int, t: float) -> Taken:
        """Take the numbers `first` to `last` of a boot as received all at once; `fresh` where any of them is new."""
        book, new_boot = self._book("report", boot, t, None)
        late = book is not self._now
        book.last_t = t
        closed, filled = _fill_many(book, first, last)
        if last <= book.used:
            return Taken(filled, late, new_boot, _NONE, None, closed)
        gaps = _account(book, first - 1, t)
        book.used = book.highest = last
        return Taken(True, late, new_boot, gaps, None, closed)

    def _book(self, kind: str, boot: int, t: float, ms: int | None) -> tuple[_Boot, bool]:
        """The account of this line's boot, and whether the line begins a new one."""
        now = self._now
        known = self._boots.get(boot)
        if now is not None and known is not None:
            if known is now:
                if not _is_start(now, kind, t, ms):
                    return now, False
                known = None  # started again under the same number
            elif kind not in ("hello", "alive") or t - now.last_t <= SILENT_S or _is_repeat(known, kind, ms):
                return known, False
        book = known or _Boot(boot, first=now is None)
        self._boots[boot] = self._now = book
        if len(self._boots) > MAX_BOOTS:
            del self._boots[next(number for number in self._boots if number != boot)]
        return book, now is not None


def _ahead_ms(ms: int, of: int) -> int:
    """How far one reading of a 32-bit clock that wraps is ahead of another: -2^31 to 2^31 - 1."""
    return (ms - of + 0x8000_0000) % 0x1_0000_0000 - 0x8000_0000


def _is_start(book: _Boot, kind: str, t: float, ms: int | None) -> bool:
    """Whether a line under the number of the boot that holds proves that the board has started again."""
    if ms is None or book.ms is None or _ahead_ms(ms, book.ms) > -BACK_MS:
        return False
    if kind == "hello":
        if ms in book.hellos:
            book.doubted = (t, ms)
        return ms not in book.hellos
    if book.doubted is None or t - book.doubted[0] < PROOF_S:
        return False
    passed_s = t - book.doubted[0]
    return abs(_ahead_ms(ms, book.doubted[1]) / 1000 - passed_s) <= 0.1 + 0.05 * passed_s


def _is_repeat(book: _Boot, kind: str, ms: int | None) -> bool:
    """Whether this was said long before: a hello that was heard, an `alive` no newer than what was heard."""
    if ms is None or book.ms is None:
        return False
    return ms in book.hellos if kind == "hello" else _ahead_ms(ms, book.ms) <= 0


def _advance(book: _Boot, ms: int | None) -> bool:
    """Whether the line is newer, by its board's clock, than every other of its boot."""
    if ms is None:
        return False
    if book.ms is not None and _ahead_ms(ms, book.ms) <= 0:
        return False
    book.ms = ms
    book.doubted = None
    return True


def _account(book: _Boot, used: int, t: float) -> tuple[tuple[int, int], ...]:
    """All numbers up to `used` have been used: open what is not accounted for; what of it is proved lost."""
    excused = book.first and not book.numbered
    book.numbered = True
    if used <= book.used:
        return _NONE
    gap = (book.used + 1, used)
    book.used = used
    book.open.append(_Range(*gap, None if excused else t, gap))
    if len(book.open) > MAX_RANGES:
        del book.open[0]
    return _NONE if excused else (gap,)


def _find(book: _Boot, seq: int) -> int | None:
    """Where among the missing ranges a number lies."""
    at = bisect_right(book.open, seq, key=lambda row: row.first) - 1
    return at if at >= 0 and seq <= book.open[at].last else None


def _fill(book: _Boot, at: int, seq: int) -> tuple[tuple[int, int], ...]:
    """A missing number came; the gap that it closes, if it does."""
    row = book.open[at]
    rest = [
        _Range(first, last, row.t, row.gap) for first, last in ((row.first, seq - 1), (seq + 1, row.last)) if first <= last
    ]
    book.open[at : at + 1] = rest
    if rest or row.t is None or any(other.gap == row.gap for other in book.open):
        return _NONE
    return (row.gap,)


def _fill_many(book: _Boot, first: int, last: int) -> tuple[tuple[tuple[int, int], ...], bool]:
    """Missing numbers came, `first` to `last`: the gaps that they close, and whether any was missing."""
    met = [row for row in book.open if row.first <= last and first <= row.last]
    if not met:
        return _NONE, False
    book.highest = max(book.highest, min(last, met[-1].last))
    rest = [
        _Range(begin, end, row.t, row.gap)
        for row in met
        for begin, end in ((row.first, first - 1), (last + 1, row.last))
        if begin <= end
    ]
    at = book.open.index(met[0])
    book.open[at : at + len(met)] = rest
    left = {row.gap for row in book.open}
    return tuple(dict.fromkeys(row.gap for row in met if row.t is not None and row.gap not in left)), True


def _doubt(book: _Boot, used: int) -> tuple[tuple[int, int], ...]:
    """The newest `alive` says that the board has used so many numbers: a second that denies the highest ones unsays them."""
    book.doubts = book.doubts + 1 if used < book.highest else 0
    if book.doubts < 2:
        return _NONE
    book.doubts = 0
    denied = [row for row in book.open if row.last > used]
    book.open = [row for row in book.open if row.first <= used]
    for row in book.open:
        row.last = min(row.last, used)
    book.used = book.highest = used
    while (at := _find(book, book.highest)) is not None:
        book.highest = book.open[at].first - 1
    left = {row.gap for row in book.open}
    return tuple(dict.fromkeys(row.gap for row in denied if row.t is not None and row.gap not in left))
