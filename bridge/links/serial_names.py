"""Which board speaks on which port: a name belongs to one port at a time.

Rules. Pure: it is told what is heard and how time passes, and answers with what the journal is to hold. A board known on a
port that speaks on a second one may have been moved, and then the first closes, falls silent, or speaks as another board:
until one of these is seen, what the second says is held. If instead the first speaks as that board again, a while after the
second, there are two of one name: both are shut off, as nobody can tell whose report is whose, until only one has been left
for some time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.wire.encode import encode
from bridge.wire.lines import BoardLine, RejectReason
from bridge.wire.records import Closed, Opened, Received, Record, Rejected

QUIET_S = 4.5
"""Who has not spoken for so long speaks there no more: a board says `alive` every 2 s, and one may be lost. A board that was
moved is so heard again before it counts as lost, after 6 s."""

SETTLE_S = 2.0
"""How long one has to be alone before it is listened to again: a plug that is being wiggled is not out."""

PROOF_S = 0.5
"""How long after the second the first has to speak: ports are read side by side, and what came first may be read last."""

MOST_HELD = 256
"""Lines held of a name; one more is rejected: a gap shows it, and the board is asked for it again."""


@dataclass(slots=True)
class _Name:
    """One name. `home`: the port whose lines count, kept while it is closed. `last_t`: open ports that speak so now.

    `held`: what other ports say, since `held_t`.
    """

    home: str | None = None
    last_t: dict[str, float] = field(default_factory=dict)
    held: list[tuple[str, BoardLine]] = field(default_factory=list)
    held_t: float = 0.0
    is_shared: bool = False
    alone_t: float | None = None


class Names:
    """The names heard on all ports, by link. Every answer is what the journal is to hold, in this order."""

    def __init__(self, quiet_s: float = QUIET_S, settle_s: float = SETTLE_S, proof_s: float = PROOF_S) -> None:
        self._quiet_s = quiet_s
        self._settle_s = settle_s
        self._proof_s = proof_s
        self._names: dict[str, _Name] = {}
        self._speaker: dict[str, str] = {}
        self._open: set[str] = set()
        self._shut_off: set[str] = set()
        self.shared: Mapping[str, tuple[str, ...]] = {}  # replaced whole: other threads read it without a lock

    def home(self, board: str) -> str | None:
        """The link on which this board can be written to; None where it is not known, or not which of two is meant."""
        row = self._names.get(board)
        return None if row is None or row.is_shared else row.home

    def opened(self, t: float, link: str) -> list[Record]:
        """A port was opened."""
        self._open.add(link)
        return [Opened(t, link)]

    def closed(self, t: float, link: str) -> list[Record]:
        """A port was lost."""
        self._open.discard(link)
        said: list[Record] = [] if link in self._shut_off else [Closed(t, link)]
        self._shut_off.discard(link)
        return said + self._leave(t, link)

    def forget(self, link: str) -> None:
        """The device that was there is gone for good: whatever is plugged in next is a stranger."""
        self._speaker.pop(link, None)
        for board in [board for board, row in self._names.items() if row.home == link and not row.last_t]:
            del self._names[board]

    def heard(self, t: float, link: str, line: BoardLine) -> list[Record]:
        """A good line came over a link."""
        said = self._take_name(t, link, line.board)
        row = self._names.setdefault(line.board, _Name())
        if row.home is not None and not row.is_shared and self._is_quiet(t, row, row.home):
            said += self._part(t, row, row.home)
        is_new = link not in row.last_t
        row.last_t[link] = t
        if row.is_shared:
            if is_new:
                self._note_shared()
            return [*said, *self._shut(t, link), _refused(t, link, line)]
        if row.home != link and row.home in row.last_t:
            if len(row.held) == MOST_HELD:
                return [*said, _refused(t, link, line)]
            row.held_t = row.held_t if row.held else t
            row.held.append((link, line))
            return said
        if row.held and t - row.held_t >= self._proof_s:
            return said + self._shut_all(t, row, link, line)
        row.home = link
        return [*said, Received(t, link, line)]

    def pass_time(self, t: float) -> list[Record]:
        """Time has passed: who has gone is seen by silence."""
        said: list[Record] = []
        for row in [row for row in self._names.values() if row.held or row.is_shared]:
            for link in [link for link in row.last_t if self._is_quiet(t, row, link)]:
                said += self._part(t, row, link)
            if row.is_shared:
                said += self._free_if_alone(t, row)
        return said

    def _is_quiet(self, t: float, row: _Name, link: str) -> bool:
        return t - row.last_t.get(link, t) > self._quiet_s

    def _take_name(self, t: float, link: str, board: str) -> list[Record]:
        """A port speaks under a name; if until now it spoke under another, that has left it."""
        former = self._speaker.get(link)
        if former == board:
            return []
        said = self._leave(t, link)
        self._speaker[link] = board
        row = self._names.get(former or "")
        if row is not None and row.home == link and not (row.last_t or row.is_shared):
            del self._names[former or ""]
        return said

    def _leave(self, t: float, link: str) -> list[Record]:
        """A port speaks no longer as it did."""
        row = self._names.get(self._speaker.get(link, ""))
        return [] if row is None else self._part(t, row, link)

    def _part(self, t: float, row: _Name, link: str) -> list[Record]:
        """One port fewer speaks under a name."""
        if row.last_t.pop(link, None) is None:
            return []
        if row.is_shared:
            said = self._let_in(t, link)
            self._note_shared()
            return said
        held, row.held = row.held, []
        if link == row.home:
            return [record for by, line in held for record in self.heard(t, by, line)]
        row.held = [(by, line) for by, line in held if by != link]
        return [_refused(t, by, line) for by, line in held if by == link]  # the first is still there: it was not a move

    def _shut_all(self, t: float, row: _Name, link: str, line: BoardLine) -> list[Record]:
        """Two of one name are proved."""
        held, row.held = row.held, []
        row.is_shared, row.alone_t = True, None
        self._note_shared()
        shut = [record for other in row.last_t for record in self._shut(t, other)]
        return [*shut, *(_refused(t, by, refused) for by, refused in (*held, (link, line)))]

    def _shut(self, t: float, link: str) -> list[Record]:
        """To the railway this port is closed, though it is read on."""
        if link in self._shut_off:
            return []
        self._shut_off.add(link)
        return [Closed(t, link)]

    def _free_if_alone(self, t: float, row: _Name) -> list[Record]:
        if len(row.last_t) > 1:
            row.alone_t = None
            return []
        if row.alone_t is None:
            row.alone_t = t
        if t - row.alone_t < self._settle_s:
            return []
        row.is_shared, row.home = False, next(iter(row.last_t), None)
        self._note_shared()
        return [] if row.home is None else self._let_in(t, row.home)

    def _let_in(self, t: float, link: str) -> list[Record]:
        """Where a port was shut off and is open, the railway is told that it is open again."""
        if link not in self._shut_off:
            return []
        self._shut_off.discard(link)
        return [Opened(t, link)] if link in self._open else []

    def _note_shared(self) -> None:
        self.shared = {name: tuple(sorted(row.last_t)) for name, row in self._names.items() if row.is_shared}


def _refused(t: float, link: str, line: BoardLine) -> Rejected:
    return Rejected(t, link, RejectReason.SAME_NAME.value, encode(line)[:-1])
