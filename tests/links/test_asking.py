"""A board that keeps its last reports, a wire that loses lines, and the host that asks: what is lost comes after all.

The bound, derived: the wire to the host loses 1 line in 10 and the wire to the board none, so a lost report fails to come
again in three tries with 0.1 to the power of 3, one in a thousand. Of some two thousand lost ones two are expected to stay
lost, and more than ten in less than one run in ten thousand (Poisson).
"""

from __future__ import annotations

import random
from collections import deque

from bridge.links.health import Health
from bridge.wire.lines import Again, Alive, Ask, BoardLine, Hello, HostLine, Report, State
from bridge.wire.records import Received

RING = 32
INPUTS = 4


class Board:
    """As the contract asks of a board: numbers its lines, keeps the last 32, answers `ask` and `again`."""

    def __init__(self) -> None:
        self.seq = 0
        self._kept: deque[Report | State] = deque(maxlen=RING)

    def report(self, ms: int) -> BoardLine:
        self.seq += 1
        line = Report("alder", 17, self.seq, ms, self.seq % INPUTS, "on" if self.seq % 8 < 4 else "off")
        self._kept.append(line)
        return line

    def answer(self, asked: HostLine, ms: int) -> list[BoardLine]:
        match asked:
            case Ask():
                return [Hello("alder", 17, ms, INPUTS), *(self._state(number, ms) for number in range(INPUTS))]
            case Again(17, first, last):
                return [line for line in self._kept if first <= line.seq <= (last or self.seq)]
        return []

    def _state(self, number: int, ms: int) -> State:
        self.seq += 1
        line = State("alder", 17, self.seq, ms, number, "on")
        self._kept.append(line)
        return line


def test_what_a_wire_loses_comes_again() -> None:
    rng, health, board = random.Random(1), Health(), Board()
    came: set[int] = set()
    at_first_lost: set[int] = set()
    again = 0

    def send(lines: list[BoardLine], t: float) -> None:
        nonlocal again
        for line in lines:
            if rng.random() < 0.1:
                if isinstance(line, Report | State) and line.seq not in came:
                    at_first_lost.add(line.seq)
                continue
            if isinstance(line, Report | State):
                came.add(line.seq)
            for _, asked in health.take(Received(t, "serial-ttyA", line)):
                again += isinstance(asked, Again)
                send(board.answer(asked, round(1000 * t)), t)

    for step in range(200_000):
        t = round(step / 10, 6)
        due = health.due()
        if due is not None and due <= t:
            for _, asked in health.wake(t):
                again += isinstance(asked, Again)
                send(board.answer(asked, round(1000 * t)), t)
        if step % 10 == 5:
            send([board.report(round(1000 * t))], t)
        if step % 20 == 0:
            send([Alive("alder", 17, board.seq, round(1000 * t))], t)
    lost = set(range(1, board.seq - 5)) - came
    assert len(at_first_lost) > 1_500
    assert len(lost) <= 10
    assert again < 2 * len(at_first_lost)
