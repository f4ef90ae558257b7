"""The boards of virtual evenings, one evening behind the other, for trials that turn the clock themselves.

Rule: what happens on the track depends on seed and mistakes alone, never on how well anybody listens. Each evening's boards
are switched on anew and have a boot of their own, so that no two lines of a trial have the same number.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from bridge.cli.demo import demonstration
from bridge.folder import FolderRead, load
from bridge.virtual.board import Board
from bridge.virtual.orders import BoardFails
from bridge.virtual.staging import Stage, stage
from bridge.wire.lines import BoardLine, HostLine

BROKER = """
[broker]
host = "127.0.0.1"
port = {port}
user = "numbertaker"
"""
FIRST_S = 3.9
"""So many seconds after they were switched on nothing has happened yet: the evening begins at 4 s."""


def railway_in(home: Path, broker: int | None = None) -> tuple[Path, FolderRead]:
    """A copy of the demonstration railway; with the port of a broker all of its boards speak through that."""
    source = demonstration()
    assert source is not None
    folder = home / "railway"
    shutil.copytree(source, folder)
    if broker is not None:
        text = (folder / "railway.toml").read_text(encoding="utf-8")
        text = re.sub(r'link = "serial"', 'link = "mqtt"', text) + BROKER.format(port=broker)
        (folder / "railway.toml").write_text(text, encoding="utf-8")
    read = load(folder)
    assert read.railway is not None
    return folder, read


def staged(read: FolderRead, folder: Path) -> Stage:
    """What evenings of a railway are made of."""
    assert read.railway is not None
    return stage(read.railway, folder / "evening.script")


class Boards:
    """The boards of one evening, switched on at host second `zero_t`.

    `on_line` and `on_words` hear what is said while it is said; `end` is said when everybody has gone home. `flickers`:
    how often a minute a track detector drops out for a moment, as over dirty wheels.
    """

    def __init__(
        self, made: Stage, seed: int, mistakes: Iterable[str] = (), *, zero_t: float, boot: int, flickers: float = 0.0
    ) -> None:
        self.evening = made.evening(seed, mistakes)
        inputs = self.evening.scene.inputs
        inputs.noise = replace(inputs.noise, flickers_per_min=flickers)
        self.zero_t = zero_t
        self.on_line: Callable[[BoardLine], None] = lambda line: None
        self.on_words: Callable[[str], None] = lambda words: None
        self.evening.on_line = self._line
        self.evening.on_words = lambda words: None if words == "end" else self.on_words(words)
        for board in self.evening.boards.values():
            board.boot = boot

    @property
    def names(self) -> tuple[str, ...]:
        """The boards' names."""
        return tuple(self.evening.boards)

    def switch_on(self) -> None:
        """Every board says hello; from here on it happens by itself."""
        for board in self.evening.boards.values():
            for line in board.start(self.evening.timeline.now_s, "power"):
                self.on_line(line)
        self.evening.start()

    @property
    def is_over(self) -> bool:
        """Whether everybody has gone home."""
        return self.evening.finished

    @property
    def next_t(self) -> float:
        """When something happens next (host seconds); never before they are switched on."""
        next_s = self.evening.timeline.next_s
        return float("inf") if next_s is None else self.zero_t + next_s

    def step(self) -> None:
        """What happens next."""
        self.evening.timeline.step()
        if self.is_over:
            self.on_words("end")

    def hear(self, board: str, line: HostLine, t: float) -> None:
        """The host tells a board something, at host second `t`."""
        self.evening.timeline.skip_to(t - self.zero_t)
        self.evening.hear(board, line)

    def fail(self, order: BoardFails) -> None:
        """A board fails, as a crew of the script could let it."""
        self.evening._cabinet.fail(order)

    def _line(self, _board: Board, line: BoardLine) -> None:
        self.on_line(line)
