"""The wires of a layout that is worked for weeks: they close, repeat, delay and garble.

Rule: what a serial wire carries while it is closed, or nobody listens, is lost; a broker keeps it and hands it over later.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from bridge.wire.lines import BoardLine, Reject
from bridge.wire.parser import BoardParser
from bridge.wire.records import BoardUp, Closed, Opened, Received, Record, Rejected

if TYPE_CHECKING:
    from .layout import Layout

LATE_S = 5.0
MOST_KEPT = 10_000


class Wire:
    """One board's way to the service."""

    def __init__(self, board: str, by_broker: bool, layout: Layout) -> None:
        self.is_closed = False
        self._board, self._by_broker, self._layout = board, by_broker, layout
        self._link = "mqtt" if by_broker else f"serial-{board}"
        self._kept: deque[BoardLine] = deque(maxlen=MOST_KEPT)
        self._repeat_until = self._delay_until = 0.0

    def carry(self, line: BoardLine) -> None:
        """Take a line; it comes once, or as often and as late as the wire lets it."""
        layout, t = self._layout, self._layout.clock.t
        times = layout.chance.randint(1, 3) if t < self._repeat_until else 1
        for _ in range(times):
            late_s = layout.chance.uniform(0.0, LATE_S) if t < self._delay_until else 0.01
            layout.after(late_s, lambda: self._arrive(line))

    def open(self) -> None:
        """It is opened by the service, or mended."""
        self.is_closed = False
        self._bring(Opened(self._layout.now(), self._link))
        if self._by_broker:
            self._bring(BoardUp(self._layout.now(), self._link, self._board))
        while self._kept and self._bring(self._received(self._kept[0])):
            self._kept.popleft()

    def close(self) -> None:
        """It is pulled out, or its broker is gone."""
        if not self.is_closed:
            self.is_closed = True
            self._bring(Closed(self._layout.now(), self._link))

    def repeat_until(self, t: float) -> None:
        """Until then each line comes one to three times."""
        self._repeat_until = t

    def delay_until(self, t: float) -> None:
        """Until then each line is up to 5 s on its way, and they overtake each other."""
        self._delay_until = t

    def garble(self, data: bytes) -> None:
        """Bytes that no board has sent."""
        parser = BoardParser()
        for said in (*parser.feed(data), *parser.finish()):
            if isinstance(said, Reject) and not self.is_closed:
                self._bring(Rejected(self._layout.now(), self._link, said.reason.value, said.raw))

    def _arrive(self, line: BoardLine) -> None:
        if (self.is_closed or not self._bring(self._received(line))) and self._by_broker:
            self._kept.append(line)

    def _received(self, line: BoardLine) -> Received:
        return Received(self._layout.now(), self._link, line)

    def _bring(self, record: Record) -> bool:
        return self._layout.bring(record)
