"""A board as its firmware would have it: numbers its reports, keeps the last of them, answers the host.

Rule: it says only what its inputs tell it. Its clock starts where it will and drifts; its numbers count from 1 at each boot.
"""

from __future__ import annotations

from collections import OrderedDict

from bridge.wire.lines import Again, Alive, Ask, BoardLine, Edge, Hello, HostLine, Report, State, Watch

RING = 32
ALIVE_S = 2.0
DEBOUNCE_S = 0.008
WRAP = 1 << 32


class Board:
    """One board; `inputs` are the numbers it has something on, `levels` what each says now."""

    def __init__(self, name: str, inputs: tuple[int, ...], boot: int, started_ms: int, drift_ppm: float) -> None:
        self.name = name
        self.inputs = inputs
        self.boot = boot
        self.seq = 0
        self.levels: dict[int, str] = dict.fromkeys(inputs, "off")
        self.awake = False
        self._zero_ms = started_ms
        self._rate = 1.0 + drift_ppm * 1e-6
        self._kept: OrderedDict[int, Report | State] = OrderedDict()
        self._watched_until: dict[int, float] = {}

    def ms(self, t_s: float) -> int:
        """The board's clock at that time."""
        return int(self._zero_ms + t_s * 1000.0 * self._rate) % WRAP

    def start(self, t_s: float, reset: str) -> list[BoardLine]:
        """What it says when it starts."""
        self.awake = True
        return [self.hello(t_s, reset)]

    def restart(self, t_s: float) -> None:
        """A new boot: numbers and clock begin again, what was kept is gone."""
        self.boot += 1
        self.seq = 0
        self._kept.clear()
        self._watched_until.clear()
        self._zero_ms = int(-t_s * 1000.0 * self._rate)

    def hello(self, t_s: float, reset: str = "power") -> Hello:
        """It names itself."""
        oldest = next(iter(self._kept), self.seq + 1)
        extra = (("fw", "virtual-1"), ("reset", reset), ("min", str(oldest)))
        return Hello(self.name, self.boot, self.ms(t_s), max(self.inputs, default=0), extra)

    def alive(self, t_s: float) -> Alive:
        """It is there."""
        return Alive(self.name, self.boot, self.seq, self.ms(t_s))

    def report(self, t_s: float, number: int, value: str) -> Report:
        """Something happened at an input."""
        line = Report(self.name, self.boot, self._count(), self.ms(t_s), number, value)
        self._keep(line)
        return line

    def state(self, t_s: float, number: int) -> State:
        """How an input stands."""
        line = State(self.name, self.boot, self._count(), self.ms(t_s), number, self.levels[number])
        self._keep(line)
        return line

    def forget(self, seq: int) -> None:
        """A report it cannot send again."""
        self._kept.pop(seq, None)

    def edge(self, t_s: float, number: int, on: bool) -> Edge | None:
        """An edge of an input that the host watches, None of any other."""
        if t_s >= self._watched_until.get(number, 0.0):
            return None
        us = int((self._zero_ms + t_s * 1000.0 * self._rate) * 1000.0) % WRAP
        return Edge(self.name, self.boot, us, number, "on" if on else "off")

    def answer(self, t_s: float, line: HostLine) -> list[BoardLine]:
        """What it says to something from the host."""
        if not self.awake:
            return []
        match line:
            case Ask():
                return [self.hello(t_s), *(self.state(t_s, number) for number in self.inputs)]
            case Again(boot, first, last):
                return list(self._again(t_s, first, last or self.seq)) if boot == self.boot else []
            case Watch(number, seconds):
                if number in self.levels:
                    self._watched_until[number] = t_s + min(seconds, 60)
                return []

    def _again(self, t_s: float, first: int, last: int) -> list[BoardLine]:
        lines: list[BoardLine] = []
        for seq in range(max(first, self.seq - RING + 1), min(last, self.seq) + 1):
            kept = self._kept.get(seq)
            if isinstance(kept, State):
                kept = State(self.name, self.boot, seq, self.ms(t_s), kept.input, self.levels[kept.input])
            if kept is not None:
                lines.append(kept)
        return lines

    def _count(self) -> int:
        self.seq += 1
        return self.seq

    def _keep(self, line: Report | State) -> None:
        self._kept[line.seq] = line
        while len(self._kept) > RING:
            self._kept.popitem(last=False)
