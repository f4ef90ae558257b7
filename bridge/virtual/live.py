"""An evening in real time, or so many times faster, on real wires.

Rule: the timeline never runs ahead of the clock it was given, and what the host says comes in between, at the time it comes.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence

from bridge.virtual.board import Board
from bridge.virtual.evening import Evening
from bridge.virtual.wires import Wire
from bridge.wire.lines import BoardLine, HostLine

LONGEST_WAIT_S = 1.0


class Live:
    """Runs an evening by `clock` (seconds that run `speed` times as fast as real ones).

    It is begun once every board has been asked, so that nothing happens unheard. `on_words` hears the operator's words,
    `on_over` is called when the evening is over, and the boards go on until `stop`; without one it stops by itself.
    `on_turn` is called after each thing that has happened. All three are called in the thread of `run`.
    """

    def __init__(
        self,
        evening: Evening,
        wires: Sequence[Wire],
        clock: Callable[[], float],
        *,
        speed: float = 1.0,
        on_words: Callable[[str], None],
        on_over: Callable[[], None] | None = None,
        on_turn: Callable[[], None] | None = None,
    ) -> None:
        self._evening, self._wires, self._clock, self._speed = evening, wires, clock, speed
        self._on_over = on_over or self.stop
        self._on_turn = on_turn or (lambda: None)
        self._heard: deque[tuple[str, HostLine]] = deque()
        self._news = threading.Condition()
        self._stopping = False
        self.zero_s = 0.0
        """What the clock said when the evening's second 0 was."""
        evening.on_line = self._say
        evening.on_link = self._turn_link
        evening.on_words = on_words

    def run(self) -> None:
        """Until `stop` is called. Raises OSError from a wire, `ScriptError` from the evening."""
        started: list[Wire] = []
        try:
            for wire in self._wires:
                started.append(wire)
                wire.start(self._hear)
            self.zero_s = self._clock()
            self._evening.start(begin_when_asked=True)
            over = False
            while self._turn():
                if self._evening.finished and not over:
                    over = True
                    self._on_over()
        finally:
            for wire in started:
                wire.stop()

    def stop(self) -> None:
        """End it; may be called from any thread."""
        with self._news:
            self._stopping = True
            self._news.notify()

    def _turn(self) -> bool:
        """One thing that happens, once it is time; False when it is to stop."""
        timeline = self._evening.timeline
        with self._news:
            if self._stopping:
                return False
            now_s = self._clock() - self.zero_s
            heard = self._heard.popleft() if self._heard else None
            if heard is None and (timeline.next_s is None or timeline.next_s > now_s):
                wait_s = LONGEST_WAIT_S if timeline.next_s is None else (timeline.next_s - now_s) / self._speed
                self._news.wait(min(wait_s, LONGEST_WAIT_S))
                return True
        if heard is None:
            timeline.step()
        else:
            timeline.skip_to(now_s)
            self._evening.hear(*heard)
        self._on_turn()
        return True

    def _hear(self, board: str, line: HostLine) -> None:
        with self._news:
            self._heard.append((board, line))
            self._news.notify()

    def _say(self, board: Board, line: BoardLine) -> None:
        for wire in self._wires:
            if wire.say(board.name, line):
                return

    def _turn_link(self, board: Board, up: bool) -> None:
        for wire in self._wires:
            wire.turn_link(board.name, up)
