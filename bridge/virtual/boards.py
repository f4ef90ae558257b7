"""All boards of an evening: when they speak, and what becomes of what they say when one fails.

Rule: a board's lines reach the host through here alone, so that what is withheld or lost is known and stands in the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

from bridge.core.plan import Railway
from bridge.virtual.board import ALIVE_S, Board
from bridge.virtual.orders import BoardFails
from bridge.virtual.timeline import Timeline
from bridge.virtual.truth import Truth
from bridge.wire.lines import Again, BoardLine, HostLine, Report, State

KEEP_ALIVE_S = 15.0
"""How often a board on a broker is heard at least; MQTT 3.1.1, 3.1.2.10: after 1.5 times as long it counts as gone."""


class Boards:
    """Boards by name. `on_line(board, line)` hears what they say, `on_link(board, up)` a broker's word on their links;
    `mark(name)` is told when one has lost all that it was to lose."""

    def __init__(self, railway: Railway, timeline: Timeline, truth: Truth, chance: Random) -> None:
        self.by_name = dict(_made(railway, chance))
        self.on_line: Callable[[Board, BoardLine], None] = lambda board, line: None
        self.on_link: Callable[[Board, bool], None] = lambda board, up: None
        self.mark: Callable[[str], None] = lambda name: None
        self.on_lost: list[Callable[[str], None]] = []
        """Who hears that a board has lost a report."""
        self._timeline, self._truth = timeline, truth
        self._losing: dict[str, BoardFails] = {}
        self._lost: dict[str, int] = {}
        self._cut_off: dict[str, int] = {}  # a board whose link is down: its number when it went

    def start(self, phases: Random) -> None:
        """Every board is awake and says so from now on."""
        for board in self.by_name.values():
            board.awake = True
            self._timeline.after(phases.random() * ALIVE_S, lambda board=board: self._alive(board))  # type: ignore[misc]

    def hear(self, name: str, line: HostLine) -> None:
        """The host tells a board something."""
        known = self.by_name.get(name)
        if known is None or name in self._cut_off:
            return
        for answer in known.answer(self._timeline.now_s, line):
            self.on_line(known, answer)

    def send(self, board: Board, line: BoardLine) -> None:
        """A board says something by itself."""
        losing = self._losing.get(board.name)
        if losing is not None and isinstance(line, Report) and self._lost[board.name] < losing.lost:
            self._lose(board, line, losing)
        elif board.awake and board.name not in self._cut_off:
            self.on_line(board, line)

    def _alive(self, board: Board) -> None:
        if board.awake:
            self.send(board, board.alive(self._timeline.now_s))
        self._timeline.after(ALIVE_S, lambda: self._alive(board))

    def _lose(self, board: Board, line: Report, losing: BoardFails) -> None:
        self._lost[board.name] += 1
        if not losing.kept:
            board.forget(line.seq)
        self._note(board, "lost, sent again when asked" if losing.kept else "lost", boot=line.boot, seq=line.seq)
        for hear in self.on_lost:
            hear(board.name)
        self.mark(f"{board.name}-losing")
        if self._lost[board.name] == losing.lost:
            self.mark(f"{board.name}-lost")

    def fail(self, order: BoardFails) -> None:
        """A board loses reports, or says nothing for a while and then starts anew."""
        if order.lost:
            self._losing[order.board], self._lost[order.board] = order, 0
        else:
            self.restart(order.board, order.silent_s, "silent", "watchdog")

    def restart(self, name: str, dark_s: float, what: str, reset: str) -> None:
        """A board says nothing for so long and starts anew, with `reset` as its reason; `what` stands in the truth."""
        board = self.by_name[name]
        board.awake = False
        self._note(board, what, until_t=round(self._timeline.now_s + dark_s, 3))
        self._timeline.after(dark_s, lambda: self._wake(board, reset))

    def _wake(self, board: Board, reset: str) -> None:
        board.restart(self._timeline.now_s)
        for line in board.start(self._timeline.now_s, reset):
            self.send(board, line)

    def cut_off(self, name: str, away_s: float) -> None:
        """A board's link is down for so long; it goes on, and sends what it has kept when it is back."""
        board = self.by_name[name]
        self._cut_off[name] = board.seq
        self._note(board, "link down", until_t=round(self._timeline.now_s + away_s, 3))
        if away_s > 1.5 * KEEP_ALIVE_S:
            self._timeline.after(1.5 * KEEP_ALIVE_S, lambda: self.on_link(board, False))
        self._timeline.after(away_s, lambda: self._back(board))

    def _back(self, board: Board) -> None:
        first = self._cut_off.pop(board.name) + 1
        self.on_link(board, True)
        kept = board.answer(self._timeline.now_s, Again(board.boot, first, 0))
        for line in kept:
            self.on_line(board, line)
        resent = {line.seq for line in kept if isinstance(line, (Report, State))}
        for seq in range(first, board.seq + 1):
            if seq not in resent:
                self._note(board, "lost", boot=board.boot, seq=seq)

    def _note(self, board: Board, what: str, **keys: object) -> None:
        t_s = round(self._timeline.now_s, 3)
        self._truth.boards.append({"board": board.name, "what": what, **keys, "t": t_s})


def _made(railway: Railway, chance: Random) -> Iterator[tuple[str, Board]]:
    plant = railway.plant
    for name in plant.boards:
        inputs = tuple(sorted(d.input for d in plant.detectors.values() if d.board == name))
        started_ms = chance.choice((chance.randrange(2_000, 900_000), chance.randrange((1 << 32) - 600_000, 1 << 32)))
        drift_ppm = chance.choice((chance.uniform(-50, 50), chance.uniform(-2500, 2500)))
        yield name, Board(name, inputs, chance.randrange(1, 400), started_ms, drift_ppm)
