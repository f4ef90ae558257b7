"""One evening on the virtual railway: crews do what they are told, boards report what they see.

Rule: everything happens on one timeline of virtual time, by chance of the seed alone; the same railway, script, seed and
mistakes give the same evening to the byte. Whoever wants it live lets the timeline run no faster than a real clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random

from bridge.core.plan import Railway
from bridge.virtual.board import ALIVE_S, Board
from bridge.virtual.clock import SessionClock
from bridge.virtual.crews import Crews
from bridge.virtual.inputs import Inputs
from bridge.virtual.lookout import Lookout
from bridge.virtual.noise import Noise
from bridge.virtual.orders import BoardFails, Crew
from bridge.virtual.scene import Scene
from bridge.virtual.script import Script
from bridge.virtual.timeline import Timeline
from bridge.virtual.tokens import Tokens
from bridge.virtual.truth import Truth
from bridge.virtual.world import World
from bridge.wire.lines import Ask, BoardLine, HostLine, Report

ASKED_S = 20.0  # a host that has asked one board has so long to ask the others
TAIL_S = 4.0  # boards are heard so long after everybody has gone home


class Evening:
    """Boards, vehicles and crews on one timeline. `on_line(board, line)` and `on_words(words)` hear what is said.

    `crews` work it instead of the script's.
    """

    def __init__(
        self,
        railway: Railway,
        script: Script,
        *,
        seed: int = 1,
        noise: Noise | None = None,
        mistakes: Iterable[str] = (),
        crews: Iterable[Crew] | None = None,
    ) -> None:
        self.railway, self.seed = railway, seed
        self.timeline = Timeline()
        self.boards = _boards(railway, Random(f"boards {seed}"))
        self.on_line: Callable[[Board, BoardLine], None] = lambda board, line: None
        self.on_words: Callable[[str], None] = lambda words: None
        world = World(railway)
        inputs = Inputs(railway.plant, self.boards, world.on, self.timeline, send=self._send)
        inputs.noise, inputs.chance = noise or Noise(), Random(f"noise {seed}")
        self.scene = Scene(
            railway,
            script,
            self.timeline,
            world,
            inputs,
            Tokens(railway, inputs),
            Truth(railway, seed, tuple(mistakes)),
            SessionClock(railway.plant.clock, script.begin_s),
            Random(f"crews {seed}"),
        )
        self._lookout = Lookout(self.scene)
        self._crews = Crews(self.scene, self._lookout, say=self._say, fail=self._fail)
        self._crews.done = lambda: self.timeline.after(TAIL_S, self._finish)
        self._at_work: list[Crew] = list(script.crews if crews is None else crews)
        self._losing: dict[str, BoardFails] = {}
        self._lost: dict[str, int] = {}
        self.begin_s = script.after_s
        self.finished = False
        self._started = False
        self._unasked: set[str] | None = None

    def start(self, begin_when_asked: bool = False) -> None:
        """Everything that happens by itself is put on the timeline; once.

        With `begin_when_asked` the session begins once the host has asked every board
        (or the first of them, and `ASKED_S` have passed).
        """
        if self._started:
            return
        self._started = True
        self._unasked = set(self.boards) if begin_when_asked else None
        phases = Random(f"phases {self.seed}")
        for board in self.boards.values():
            board.awake = True
            self.timeline.after(phases.random() * ALIVE_S, lambda board=board: self._alive(board))  # type: ignore[misc]
        if not begin_when_asked:
            self.timeline.at(self.begin_s, self._begin)

    def run(self) -> None:
        """To the end, as fast as it goes. Raises `ScriptError` where a crew cannot do what it is told."""
        self.start()
        while not self.finished:
            self.timeline.step()

    def hear(self, board: str, line: HostLine) -> None:
        """The host tells a board something."""
        known = self.boards.get(board)
        if known is None:
            return
        for answer in known.answer(self.timeline.now_s, line):
            self.on_line(known, answer)
        if isinstance(line, Ask) and self._unasked is not None:
            if len(self._unasked) == len(self.boards):
                self.timeline.after(ASKED_S, self._all_asked)
            self._unasked.discard(board)
            if not self._unasked:
                self._all_asked()

    def _all_asked(self) -> None:
        if self._unasked is not None:
            self._unasked = None
            self.begin_s = self.timeline.now_s + self.scene.script.after_s
            self.timeline.at(self.begin_s, self._begin)

    def truth_json(self) -> str:
        """The truth so far, as the text of its file."""
        return self.scene.truth.as_json(self.scene.world, self.begin_s, self.timeline.now_s)

    def _begin(self) -> None:
        self.scene.clock.go(self.timeline.now_s)
        whole = int(self.scene.script.begin_s)
        seconds = f":{whole % 60:02d}" if whole % 60 else ""
        self.on_words(f"begin {whole // 3600:02d}:{whole // 60 % 60:02d}{seconds}")
        self.scene.inputs.begin_noise()
        self._crews.begin(self._at_work)

    def _finish(self) -> None:
        self.finished = True

    def _say(self, words: str) -> None:
        if words == "stop-clock":
            self.scene.clock.stop(self.timeline.now_s)
        elif words == "go-on":
            self.scene.clock.go(self.timeline.now_s)
        self.on_words(words)

    # -- boards --------------------------------------------------------------------------------------------------------

    def _alive(self, board: Board) -> None:
        if board.awake:
            self.on_line(board, board.alive(self.timeline.now_s))
        self.timeline.after(ALIVE_S, lambda: self._alive(board))

    def _send(self, board: Board, line: BoardLine) -> None:
        losing = self._losing.get(board.name)
        if losing is not None and isinstance(line, Report) and self._lost[board.name] < losing.lost:
            self._lose(board, line, losing)
        elif board.awake:
            self.on_line(board, line)

    def _lose(self, board: Board, line: Report, losing: BoardFails) -> None:
        self._lost[board.name] += 1
        if not losing.kept:
            board.forget(line.seq)
        what = "lost, sent again when asked" if losing.kept else "lost"
        row = {"board": board.name, "what": what, "boot": line.boot, "seq": line.seq, "t": round(self.timeline.now_s, 3)}
        self.scene.truth.boards.append(row)
        self._lookout.mark(f"{board.name}-losing")
        if self._lost[board.name] == losing.lost:
            self._lookout.mark(f"{board.name}-lost")

    def _fail(self, order: BoardFails) -> None:
        board, now_s = self.boards[order.board], self.timeline.now_s
        if order.lost:
            self._losing[order.board], self._lost[order.board] = order, 0
            return
        board.awake = False
        row = {"board": board.name, "what": "silent", "t": round(now_s, 3), "until_t": round(now_s + order.silent_s, 3)}
        self.scene.truth.boards.append(row)
        self.timeline.after(order.silent_s, lambda: self._wake(board))

    def _wake(self, board: Board) -> None:
        board.restart(self.timeline.now_s)
        for line in board.start(self.timeline.now_s, "watchdog"):
            self.on_line(board, line)


def _boards(railway: Railway, chance: Random) -> dict[str, Board]:
    plant = railway.plant
    made = {}
    for name in plant.boards:
        inputs = tuple(sorted(d.input for d in plant.detectors.values() if d.board == name))
        started_ms = chance.choice((chance.randrange(2_000, 900_000), chance.randrange((1 << 32) - 600_000, 1 << 32)))
        drift_ppm = chance.choice((chance.uniform(-50, 50), chance.uniform(-2500, 2500)))
        made[name] = Board(name, inputs, chance.randrange(1, 400), started_ms, drift_ppm)
    return made
