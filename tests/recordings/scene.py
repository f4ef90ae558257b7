"""The pen for captures: a scene is written a detector at a time, so that a reader can follow what happens on the layout.

Rule: a scene knows boards, inputs and bytes; it knows nothing of what the core makes of them. Each step lets time pass
first; boards say that they are alive every 2 s in between, as the contract has it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind
from bridge.folder import load
from bridge.wire.encode import encode
from bridge.wire.lines import Alive, BoardLine, Hello, Report, State

HERE = Path(__file__).parent


@cache
def railway_of(folder: str) -> Railway:
    """The railway in a folder beside this file."""
    railway = load(HERE / folder).railway
    assert railway is not None, folder
    return railway


class Scene:
    """One capture in the making. Times are seconds; each step takes place `after` so many, then time moves on by 1 ms.

    At the start every board has said hello and how its inputs stand: tracks under vehicles on, proofs on, each token on the
    first rest of its section in the folder; then the session begins (`begin` None: it does not).
    """

    def __init__(self, *story: str, folder: str = "railway", begin: str | None = "19:01") -> None:
        self.railway = railway_of(folder)
        self.story, self.folder = story, folder
        self.lines: list[str] = []
        self.t = 0.0
        boards = self.railway.plant.boards
        self.boot = {board: 10 + i for i, board in enumerate(boards)}
        self.seq = dict.fromkeys(boards, 0)
        self.next_alive = {board: 1.9 + 0.1 * i for i, board in enumerate(boards)}
        self.silent: set[str] = set()
        self.lost: dict[str, list[Report]] = {board: [] for board in boards}
        self.stands = {detector.id: self._at_first(detector) for detector in self.railway.plant.detectors.values()}
        self.host("started")
        for board in boards:
            self._write(f"{self.link(board)} !opened")
            self.greet(board)
        self.t = 1.0
        if begin is not None:
            self.say(f"begin {begin}")

    def _at_first(self, detector: Detector) -> str:
        if detector.kind is DetectorKind.TRACK:
            under = [self.railway.stock[row.vehicle] for row in self.railway.standing if row.place == detector.covers]
            return "on" if any(vehicle.detected for vehicle in under) else "off"
        if detector.kind is DetectorKind.PROOF:
            return "on"
        rests = [d.id for d in self.railway.plant.detectors.values() if d.token is not None and d.token == detector.token]
        return (
            f"tag={self.railway.plant.sections[detector.token or ''].token_tags[0]}" if rests[:1] == [detector.id] else "off"
        )

    def link(self, board: str) -> str:
        """The link over which a board is heard."""
        return f"serial-{board}" if self.railway.plant.boards[board].link == "serial" else "mqtt"

    def _ms(self) -> int:
        return round(self.t * 1000) + 5000

    def _write(self, rest: str) -> None:
        self.lines.append(f"{self.t:.6f} {rest}")
        self.t = round(self.t + 0.001, 6)

    def _board(self, board: str, line: BoardLine) -> None:
        if board not in self.silent:
            self._write(f"{self.link(board)} {encode(line).decode('ascii').strip()}")

    # --- what boards say

    def greet(self, board: str) -> Scene:
        """A board says hello, then how every input of it stands."""
        inputs = [d for d in self.railway.plant.detectors.values() if d.board == board]
        self._board(board, Hello(board, self.boot[board], self._ms(), len(inputs), (("fw", "1.0"),)))
        return self.tell_states(board)

    def tell_states(self, board: str) -> Scene:
        """A board says how every input of it stands."""
        for detector in (d for d in self.railway.plant.detectors.values() if d.board == board):
            self.seq[board] += 1
            value = self.stands[detector.id]
            self._board(board, State(board, self.boot[board], self.seq[board], self._ms(), detector.input, value))
        return self

    def wait(self, seconds: float) -> Scene:
        """Let time pass; boards say that they are alive."""
        until = round(self.t + seconds, 6)
        while self.next_alive and min(self.next_alive.values()) <= until:
            board = min(self.next_alive, key=lambda b: self.next_alive[b])
            self.t = max(self.t, round(self.next_alive[board], 6))
            self.next_alive[board] = self.t + 2.0
            self._board(board, Alive(board, self.boot[board], self.seq[board], self._ms()))
        self.t = max(self.t, until)
        return self

    def report(self, detector: str, value: str, after: float = 0.5, lost: bool = False) -> Scene:
        """One report of a detector ("on", "off" or "tag=..."); `lost`: it does not reach the host, but may be sent again."""
        self.wait(after)
        found = self.railway.plant.detectors[detector]
        board = found.board
        self.seq[board] += 1
        line = Report(board, self.boot[board], self.seq[board], self._ms(), found.input, value)
        if found.kind in (DetectorKind.TRACK, DetectorKind.TOKEN_REST, DetectorKind.PROOF):
            self.stands[detector] = value
        if lost:
            self.lost[board].append(line)
        else:
            self._board(board, line)
        return self

    def send_again(self, board: str, after: float = 0.5) -> Scene:
        """A board sends its lost reports once more, with their numbers and times."""
        self.wait(after)
        for line in self.lost[board]:
            self._board(board, line)
        self.lost[board].clear()
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

    def read(self, detector: str, *what: str, after: float = 1.0, lost: bool = False) -> Scene:
        """A reader reads vehicles one after the other: by id (its first tag), or a tag as it stands."""
        for each in what:
            tag = self.railway.stock[each].tags[0] if each in self.railway.stock else each
            self.report(detector, f"tag={tag}", after, lost)
        return self

    def tread(self, *treadles: str, after: float = 0.5) -> Scene:
        """Treadles are passed, one after the other: each closes and opens again."""
        for treadle in treadles:
            self.report(treadle, "on", after).report(treadle, "off", 0.1)
        return self

    def lay(self, rest: str, after: float = 0.5) -> Scene:
        """The token of a rest's section is laid on it."""
        token = self.railway.plant.detectors[rest].token or ""
        return self.report(rest, f"tag={self.railway.plant.sections[token].token_tags[0]}", after)

    def silence(self, board: str) -> Scene:
        """Nothing of a board reaches the host from now on."""
        self.silent.add(board)
        return self

    def speak(self, board: str) -> Scene:
        """A board is heard again: its hello, and how its inputs stand."""
        self.silent.discard(board)
        return self.greet(board)

    def restart(self, board: str, after: float = 0.5) -> Scene:
        """A board starts anew: another boot, and its numbers count from 1 again."""
        self.wait(after)
        self.boot[board], self.seq[board] = self.boot[board] + 1, 0
        return self.greet(board)

    # --- what people and the service say

    def say(self, words: str, after: float = 0.2) -> Scene:
        """An operator tells something."""
        self.wait(after)
        self._write(f"operator {words}")
        return self

    def host(self, what: str, after: float = 0.0) -> Scene:
        """The service has started or stopped."""
        self.wait(after)
        self._write(f"host {what}")
        return self

    def text(self) -> str:
        """The capture, with what happens in it and on which railway."""
        head = [*(f"# {line}" for line in self.story), f"# folder: {self.folder}"]
        return "\n".join([*head, *self.lines]) + "\n"
