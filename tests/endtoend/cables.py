"""Boards on serial cables that can be pulled out and plugged in again, elsewhere if need be.

Rule: a cable that is out takes nothing with it: what a board says meanwhile is lost, as on a real one.
"""

from __future__ import annotations

import os
import select
import threading
import tty
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from bridge.virtual.wires import Hear
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Ask, BoardLine, Watch
from bridge.wire.parser import Parser


class Cable:
    """A pseudo-terminal that is to be found at `port`, a link, until it is pulled out."""

    def __init__(self, port: Path, board: str, hear: Hear) -> None:
        self._port, self._board, self._hear = port, board, hear
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self._wake_out, self._wake_in = os.pipe()
        port.symlink_to(os.ttyname(self._slave))
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def write(self, data: bytes) -> None:
        with suppress(OSError):
            os.write(self._master, data)

    def pull(self) -> None:
        self._port.unlink()
        os.write(self._wake_in, b"x")
        self._thread.join()
        for handle in (self._master, self._slave, self._wake_in, self._wake_out):
            os.close(handle)

    def _listen(self) -> None:
        parser = Parser()
        while True:
            ready = select.select([self._master, self._wake_out], [], [])[0]
            if self._wake_out in ready:
                return
            with suppress(OSError):
                for line in parser.feed(os.read(self._master, 4096)):
                    if isinstance(line, (Ask, Again, Watch)):
                        self._hear(self._board, line)


class Cables:
    """A wire for `bridge.virtual.live`: a cable a board, plugged into `ports` (a folder)."""

    def __init__(self, boards: Iterable[str], ports: Path) -> None:
        self._boards, self._ports = tuple(boards), ports
        self._in: dict[str, Cable] = {}
        self._changing = threading.Lock()
        self._hear: Hear = lambda board, line: None

    def start(self, hear: Hear) -> None:
        self._hear = hear
        for n, board in enumerate(self._boards):
            self.plug(board, f"port{n}")

    def say(self, board: str, line: BoardLine) -> bool:
        with self._changing:
            if board in self._in:
                self._in[board].write(encode(line))
        return board in self._boards

    def stop(self) -> None:
        for board in list(self._in):
            self.pull(board)

    def plug(self, board: str, name: str) -> None:
        with self._changing:
            self._in[board] = Cable(self._ports / name, board, self._hear)

    def pull(self, board: str) -> None:
        with self._changing:
            self._in.pop(board).pull()
