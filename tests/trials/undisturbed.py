"""The register that an evening has where nobody stops the service: the same boards, one service, no wires between.

Rule: service, store and core are the real ones; what is asked is answered, and nothing gets lost.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from bridge.folder import FolderRead
from bridge.links.link import Arrival
from bridge.wire.lines import BoardLine, HostLine
from bridge.wire.records import BoardUp, Opened, Received, Record, Said

from .evenings import Boards
from .turned import Clock, Soon, Turned

WIRE_S = 0.01
MEMORY_DISK = Path("/dev/shm")
"""Files there cost no waiting for a disk."""


class Undisturbed:
    """One evening heard as it happens."""

    def __init__(self, folder: FolderRead, boards: Boards) -> None:
        self.rows: list[Mapping[str, Any]] = []
        self._folder, self._boards = folder, boards
        self._clock, self._soon = Clock(), Soon()

    def run(self) -> list[Mapping[str, Any]]:
        """What is said of it, in order."""
        boards = self._boards
        boards.on_line = self._line
        boards.on_words = self._words
        with tempfile.TemporaryDirectory(dir=MEMORY_DISK if MEMORY_DISK.is_dir() else None) as home:
            log: list[str] = []
            self._turned = Turned(Path(home) / "one.store", self._folder, self._clock, self, self._hear, log.append)
            self._soon.at(0.0, self._open)
            self._turned.run()
        assert log == []
        return self.rows

    def turn(self, until_t: float) -> bool:
        """The next thing on the railway, or on a wire."""
        is_over = self._boards.is_over
        t = min(self._soon.next_t, float("inf") if is_over else self._boards.next_t)
        if t > until_t:
            self._clock.t = until_t
            if is_over and t == float("inf"):
                self._turned.service.stop()
            return False
        self._clock.t = t
        if self._soon.next_t <= t:
            self._soon.step()
        else:
            self._boards.step()
        return True

    def heard(self, board: str, line: HostLine) -> None:
        """A board is told something."""
        self._after(lambda: None if self._boards.is_over else self._boards.hear(board, line, self._clock.t))

    def _open(self) -> None:
        t = self._clock.t
        self._bring(Opened(t, "mqtt"), *(BoardUp(t, "mqtt", name) for name in self._boards.names))
        self._boards.switch_on()

    def _line(self, line: BoardLine) -> None:
        self._after(lambda: self._bring(Received(round(self._clock.t, 6), "mqtt", line)))

    def _words(self, words: str) -> None:
        self._after(lambda: self._bring(Said(round(self._clock.t, 6), None, words)))

    def _after(self, do: Any) -> None:
        self._soon.at(self._clock.t + WIRE_S, do)

    def _bring(self, *records: Record) -> None:
        self._turned.link.bring(Arrival(records))

    def _hear(self, row: Mapping[str, Any]) -> None:
        self.rows.append(row)
