"""An evening as a capture file: the wires' delays, and a host that opens, asks, and asks again for what is missing.

Rule: the host here does what board-lines ask of any host and judges nothing. A wire keeps the order of its lines.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from bridge.virtual.board import Board
from bridge.virtual.evening import Evening
from bridge.wire.capture import format_record
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, BoardLine, Hello, HostLine, Report, State
from bridge.wire.records import BoardDown, BoardUp, HostStarted, Opened, Received, Record, Said

BAUD = 115_200
TURN_S = 0.02  # the host answers so soon


@dataclass
class _Heard:
    """What the host has of a board."""

    boot: int | None = None
    seq: int = 0
    asked: set[tuple[int, int]] = field(default_factory=set)


class Recording:
    """The records of one evening, in the order in which they reached the host."""

    def __init__(self, evening: Evening) -> None:
        self.records: list[Record] = []
        self._evening = evening
        self._chance = Random(f"wires {evening.seed}")
        self._free_s: dict[str, float] = {}
        self._open: set[str] = set()
        self._heard = {name: _Heard() for name in evening.boards}
        evening.on_line = self._sent
        evening.on_link = self._link_turned
        evening.on_words = lambda words: self.records.append(Said(self._now(), None, words))

    def run(self) -> str:
        """Let the evening pass; the text of its capture."""
        self._open_links()
        self._evening.run()
        evening = self._evening
        mistakes = ", ".join(evening.scene.truth.as_chosen()) or "none"
        head = f"# {evening.railway.plant.name}: a virtual evening, seed {evening.seed}, mistakes: {mistakes}\n"
        return head + "".join(format_record(record) + "\n" for record in self.records)

    def _now(self) -> float:
        return round(self._evening.timeline.now_s, 6)

    def _open_links(self) -> None:
        timeline = self._evening.timeline
        self.records.append(HostStarted(0.0))
        links: dict[str, list[str]] = {}
        for name in self._evening.boards:
            links.setdefault(self._link_of(name), []).append(name)
        for n, (link, names) in enumerate(links.items()):
            timeline.at(0.02 + 0.01 * n, lambda link=link, names=names: self._opened(link, names))  # type: ignore[misc]

    def _link_of(self, board: str) -> str:
        return "mqtt" if self._evening.railway.plant.boards[board].link == "mqtt" else f"serial-{board}"

    def _opened(self, link: str, names: list[str]) -> None:
        self._open.add(link)
        self.records.append(Opened(self._now(), link))
        for name in names:
            if link == "mqtt":
                self.records.append(BoardUp(self._now(), link, name))
            self._tell(name, Ask())

    def _link_turned(self, board: Board, up: bool) -> None:
        """The broker's word; a host asks for all since the last that it has, as board-lines want it after a reconnect."""
        turned = BoardUp if up else BoardDown
        self.records.append(turned(self._now(), self._link_of(board.name), board.name))
        heard = self._heard[board.name]
        if up and heard.boot is not None:
            self._tell(board.name, Again(heard.boot, heard.seq + 1, 0))
            self._tell(board.name, Ask())

    def _tell(self, board: str, line: HostLine) -> None:
        self._evening.timeline.after(TURN_S, lambda: self._evening.hear(board, line))

    def _sent(self, board: Board, line: BoardLine) -> None:
        link = self._link_of(board.name)
        if link not in self._open:
            return
        now_s = self._evening.timeline.now_s
        if link == "mqtt":
            arrives_s = now_s + self._chance.uniform(0.004, 0.03)
        else:
            arrives_s = max(now_s, self._free_s.get(link, 0.0)) + len(encode(line)) * 10 / BAUD + 0.0005
        arrives_s = max(arrives_s, self._free_s.get(link, 0.0) + 1e-6)
        self._free_s[link] = arrives_s
        self._evening.timeline.at(arrives_s, lambda: self._arrived(link, board, line))

    def _arrived(self, link: str, board: Board, line: BoardLine) -> None:
        self.records.append(Received(self._now(), link, line))
        heard = self._heard[board.name]
        if line.boot != heard.boot:
            anew = heard.boot is not None
            heard.boot, heard.seq = line.boot, 0 if anew else getattr(line, "seq", 1) - 1
            if anew and isinstance(line, Hello):
                self._tell(board.name, Ask())
        if isinstance(line, (Report, State, Alive)):
            last = line.seq if isinstance(line, Alive) else line.seq - 1
            gap = (heard.seq + 1, last)
            if last > heard.seq and gap not in heard.asked:
                heard.asked.add(gap)
                self._tell(board.name, Again(line.boot, *gap))
            heard.seq = max(heard.seq, line.seq)
