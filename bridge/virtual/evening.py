"""One evening on the virtual railway: crews do what they are told, boards report what they see.

Rule: everything happens on one timeline of virtual time, by chance of the seed alone; the same railway, script, seed and
mistakes give the same evening to the byte. Whoever wants it live lets the timeline run no faster than a real clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from random import Random

from bridge.core.plan import Railway
from bridge.virtual.board import Board
from bridge.virtual.boards import Boards
from bridge.virtual.clock import SessionClock
from bridge.virtual.crews import Crews
from bridge.virtual.faults import Fault, set_down_elsewhere, with_carried_tags, with_faults
from bridge.virtual.inputs import Inputs
from bridge.virtual.lookout import Lookout
from bridge.virtual.mishaps import Mishaps
from bridge.virtual.noise import Noise
from bridge.virtual.orders import Crew
from bridge.virtual.physics import CLEAN, Physics
from bridge.virtual.scene import Scene
from bridge.virtual.script import Script
from bridge.virtual.timeline import Timeline
from bridge.virtual.tokens import Tokens
from bridge.virtual.truth import Truth
from bridge.virtual.world import World
from bridge.wire.lines import Ask, BoardLine, HostLine

ASKED_S = 20.0  # a host that has asked one board has so long to ask the others
TAIL_S = 4.0  # boards are heard so long after everybody has gone home


class Evening:
    """Boards, vehicles and crews on one timeline. `on_line(board, line)` and `on_words(words)` hear what is said,
    `on_link(board, up)` what a broker says of a board's link.

    `crews` work it instead of the script's.
    """

    def __init__(
        self,
        railway: Railway,
        script: Script,
        *,
        seed: int = 1,
        noise: Noise | None = None,
        physics: Physics = CLEAN,
        faults: Sequence[Fault] = (),
        mistakes: Iterable[str] = (),
        crews: Iterable[Crew] | None = None,
    ) -> None:
        self.railway, self.seed = railway, seed
        self.timeline = Timeline()
        truth = Truth(railway, seed, tuple(mistakes))
        self._cabinet = Boards(railway, self.timeline, truth, Random(f"boards {seed}"))
        self.boards = self._cabinet.by_name
        self.on_line: Callable[[Board, BoardLine], None] = lambda board, line: None
        self.on_link: Callable[[Board, bool], None] = lambda board, up: None
        self._cabinet.on_line = self._line
        self._cabinet.on_link = self._link
        self.on_words: Callable[[str], None] = lambda words: None
        physics = with_faults(physics, faults, railway)
        world = World(with_carried_tags(railway, faults), physics)
        set_down_elsewhere(world, faults)
        inputs = Inputs(
            railway.plant,
            self.boards,
            world.on,
            self.timeline,
            send=self._cabinet.send,
            physics=physics,
            seed=seed,
            noise=noise or Noise(),
        )
        inputs.contact.runs, world.unpowered = world.is_running, inputs.unpowered
        self.scene = Scene(
            railway,
            script,
            self.timeline,
            world,
            inputs,
            Tokens(railway, inputs),
            truth,
            SessionClock(railway.plant.clock, script.begin_s),
            Random(f"crews {seed}"),
        )
        self._mishaps = Mishaps(self.scene, self._cabinet, list(faults), seed)
        self._lookout = Lookout(self.scene)
        self._crews = Crews(self.scene, self._lookout, say=self._say, fail=self._cabinet.fail)
        self._cabinet.mark = self._lookout.mark
        self._crews.done = lambda: self.timeline.after(TAIL_S, self._finish)
        self._at_work: list[Crew] = list(script.crews if crews is None else crews)
        self.begin_s = script.after_s
        self.finished = False
        self._started = False
        self._unasked: set[str] | None = None

    def hire(self, crews: Iterable[Crew]) -> None:
        """These work the evening, and nobody else; before it starts."""
        self._at_work = list(crews)

    def start(self, begin_when_asked: bool = False) -> None:
        """Everything that happens by itself is put on the timeline; once.

        With `begin_when_asked` the session begins once the host has asked every board
        (or the first of them, and `ASKED_S` have passed).
        """
        if self._started:
            return
        self._started = True
        self._unasked = set(self.boards) if begin_when_asked else None
        self._cabinet.start(Random(f"phases {self.seed}"))
        if not begin_when_asked:
            self.timeline.at(self.begin_s, self._begin)

    def run(self) -> None:
        """To the end, as fast as it goes. Raises `ScriptError` where a crew cannot do what it is told."""
        self.start()
        while not self.finished:
            self.timeline.step()

    def break_off(self, after_s: float) -> None:
        """It is over so many seconds after the session's beginning, whatever the crews are about; before it starts."""
        self.timeline.at(self.begin_s + after_s, self._finish)

    def hear(self, board: str, line: HostLine) -> None:
        """The host tells a board something."""
        self._cabinet.hear(board, line)
        if board in self.boards and isinstance(line, Ask) and self._unasked is not None:
            if len(self._unasked) == len(self.boards):
                self.timeline.after(ASKED_S, self._all_asked)
            self._unasked.discard(board)
            if not self._unasked:
                self._all_asked()

    def _line(self, board: Board, line: BoardLine) -> None:
        self.on_line(board, line)

    def _link(self, board: Board, up: bool) -> None:
        self.on_link(board, up)

    def _all_asked(self) -> None:
        if self._unasked is not None:
            self._unasked = None
            self.begin_s = self.timeline.now_s + self.scene.script.after_s
            self.timeline.at(self.begin_s, self._begin)

    def truth_json(self) -> str:
        """The truth so far, as the text of its file."""
        scene = self.scene
        return scene.truth.as_json(scene.world, scene.chronicle.as_tables(), self.begin_s, self.timeline.now_s)

    def _begin(self) -> None:
        self.scene.clock.go(self.timeline.now_s)
        whole = int(self.scene.script.begin_s)
        seconds = f":{whole % 60:02d}" if whole % 60 else ""
        self.on_words(f"begin {whole // 3600:02d}:{whole // 60 % 60:02d}{seconds}")
        self.scene.inputs.begin_noise()
        self._mishaps.begin()
        self._crews.begin(self._at_work)

    def _finish(self) -> None:
        self.finished = True

    def _say(self, words: str) -> None:
        if words == "stop-clock":
            self.scene.clock.stop(self.timeline.now_s)
        elif words == "go-on":
            self.scene.clock.go(self.timeline.now_s)
        self.on_words(words)
