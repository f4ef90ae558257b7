"""Scenes: captures written by hand, a detector at a time, so that a reader can follow what happens on the layout.

Rule: a scene knows boards, inputs and bytes; it knows nothing of what the core makes of them. Each step moves time on; boards
say that they are alive every 2 s in between, as the contract has it.
"""

from __future__ import annotations

from pathlib import Path

from bridge.core.plan import Railway
from bridge.folder import load
from bridge.wire.encode import encode
from bridge.wire.lines import Alive, BoardLine, Hello, Report, State

FOLDER = Path(__file__).parent / "railway"


class Scene:
    """One capture in the making. Times are seconds; every step is taken at `t`, then `t` moves on by a little."""

    def __init__(self, title: str, begin: str | None = "19:00") -> None:
        railway = load(FOLDER).railway
        assert railway is not None
        self.railway: Railway = railway
        self.lines = [f"# {title}"]
        self.t = 0.0
        self.boot = {board: 10 + i for i, board in enumerate(railway.plant.boards)}
        self.seq = dict.fromkeys(railway.plant.boards, 0)
        self.next_alive = {board: 1.9 + 0.1 * i for i, board in enumerate(railway.plant.boards)}
        self.silent: set[str] = set()
        self.tags = {v.id: v.tags for v in railway.stock.values()}
        self._open(begin)

    def _open(self, begin: str | None) -> None:
        self._write("host started")
        for board in self.railway.plant.boards:
            self._write(f"serial-{board} !opened")
            count = sum(d.board == board for d in self.railway.plant.detectors.values())
            self._board(board, Hello(board, self.boot[board], self._ms(), count, (("fw", "1.0"),)))
        standing = {row.place for row in self.railway.standing}
        for detector in self.railway.plant.detectors.values():
            value = "on" if detector.kind.value == "track" and detector.covers in standing else "off"
            if detector.id == "marrow-token":
                value = "tag=04A1B2C301"
            self._state(detector.board, detector.input, value)
        self.t = 1.0
        if begin is not None:
            self.say(f"begin {begin}")

    def _ms(self) -> int:
        return int(self.t * 1000) + 5000

    def _write(self, rest: str) -> None:
        self.lines.append(f"{self.t:.6f} {rest}")
        self.t = round(self.t + 0.001, 6)

    def _board(self, board: str, line: BoardLine) -> None:
        if board not in self.silent:
            self._write(f"serial-{board} {encode(line).decode('ascii').strip()}")

    def _state(self, board: str, number: int, value: str) -> None:
        self.seq[board] += 1
        self._board(board, State(board, self.boot[board], self.seq[board], self._ms(), number, value))

    def wait(self, seconds: float) -> Scene:
        """Let time pass."""
        until = round(self.t + seconds, 6)
        while True:
            board = min(self.next_alive, key=lambda b: self.next_alive[b])
            if self.next_alive[board] > until:
                break
            self.t = max(self.t, round(self.next_alive[board], 6))
            self.next_alive[board] = self.t + 2.0
            self._board(board, Alive(board, self.boot[board], self.seq[board], self._ms()))
        self.t = max(self.t, until)
        return self

    def report(self, detector: str, value: str, after: float = 0.5, lost: bool = False) -> Scene:
        """One report of a detector ("on", "off" or "tag=..."); `lost`: it never reaches the host."""
        self.wait(after)
        found = self.railway.plant.detectors[detector]
        self.seq[found.board] += 1
        if not lost:
            line = Report(found.board, self.boot[found.board], self.seq[found.board], self._ms(), found.input, value)
            self._board(found.board, line)
        return self

    def on(self, *detectors: str, after: float = 0.5) -> Scene:
        """Detectors come on, one after the other."""
        for detector in detectors:
            self.report(detector, "on", after)
        return self

    def off(self, *detectors: str, after: float = 0.5) -> Scene:
        """Detectors go off, one after the other."""
        for detector in detectors:
            self.report(detector, "off", after)
        return self

    def read(self, detector: str, *vehicles: str, after: float = 1.0) -> Scene:
        """A reader reads vehicles one after the other (a vehicle's id, or a tag as it stands)."""
        for vehicle in vehicles:
            self.report(detector, "tag=" + (self.tags[vehicle][0] if vehicle in self.tags else vehicle), after)
        return self

    def say(self, words: str, after: float = 0.2) -> Scene:
        """An operator tells something."""
        self.wait(after)
        self._write(f"operator {words}")
        return self

    def silence(self, board: str) -> Scene:
        """A board says nothing from now on."""
        self.silent.add(board)
        return self

    def speak(self, board: str) -> Scene:
        """A silent board is heard again, with what it says of its inputs."""
        self.silent.discard(board)
        return self

    def restate(self, board: str) -> Scene:
        """A board says the state of every input (all off, as far as this scene is concerned)."""
        for detector in self.railway.plant.detectors.values():
            if detector.board == board:
                self._state(board, detector.input, "off")
        return self

    def text(self) -> str:
        """The capture."""
        return "\n".join(self.lines) + "\n"
