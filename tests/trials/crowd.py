"""Many pages that look on at one bridge: most read all that comes, some stop reading and stay.

    python crowd.py URL COUNT      reads until its standard input ends, then prints what came, as JSON

Rule: readers live in a process of their own, so that they take no time from who measures; they do nothing but read.
"""

from __future__ import annotations

import json
import selectors
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

ASK = b"GET /api/stream HTTP/1.1\r\nHost: localhost\r\n\r\n"
PICTURE = b"event: snapshot"


def stream(url: str) -> socket.socket:
    """An open stream, nothing of it read yet."""
    at = urlsplit(url)
    opened = socket.create_connection((at.hostname or "", at.port or 0), 10)
    opened.sendall(ASK)
    return opened


class Readers:
    """So many pages that read."""

    def __init__(self, url: str, count: int) -> None:
        command = [sys.executable, str(Path(__file__)), url, str(count)]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        if self._process.stdout.readline() != "open\n":
            raise OSError("the readers could not open their streams")

    def leave(self) -> dict[str, Any]:
        """They go; `open`: how many streams still stood, `least`: pictures of the one that got fewest."""
        told, _ = self._process.communicate(timeout=20)
        found: dict[str, Any] = json.loads(told)
        return found


class Frozen:
    """Pages that have stopped reading. `dropped_s`: after how long each was given up, as the bridge counts its pages."""

    def __init__(self, url: str, count: int) -> None:
        self._sockets = [stream(url) for _ in range(count)]
        for one in self._sockets:
            one.recv(1_000)  # it has looked on, and then no more
        self._since = time.monotonic()
        self.count = count
        self.dropped_s: list[float] = []

    def look(self, still: int) -> None:
        """Note that so many are still there; they themselves may not learn that they are not."""
        gone = self.count - still - len(self.dropped_s)
        self.dropped_s += [time.monotonic() - self._since] * gone

    def leave(self) -> None:
        """They are gone for good."""
        for one in self._sockets:
            one.close()


def read(url: str, count: int) -> None:
    """Read until standard input ends."""
    chosen = selectors.DefaultSelector()
    came = [0] * count
    for n in range(count):
        chosen.register(stream(url), selectors.EVENT_READ, n)
    chosen.register(sys.stdin, selectors.EVENT_READ, None)
    print("open", flush=True)
    standing = count
    while True:
        for key, _ in chosen.select():
            if key.data is None:
                print(json.dumps({"open": standing, "least": min(came)}), flush=True)
                return
            data = key.fileobj.recv(1 << 20)  # type: ignore[union-attr]
            came[key.data] += data.count(PICTURE)
            if not data:
                chosen.unregister(key.fileobj)
                standing -= 1


if __name__ == "__main__":
    read(sys.argv[1], int(sys.argv[2]))
