"""Word to the supervisor that started the service (systemd): it runs, it stops, how it fares, it is alive.

Rule: the loop itself says that it is alive, after a turn in which all that had come was taken. No timer says it: a loop that
hangs, in a write to a disk that does not answer or anywhere else, falls silent and is restarted. A full disk hangs nothing:
there the loop goes on, and a restart would lose what waits for room. Whoever listens, or not, never holds the loop up.

Protocol: sd_notify(3) and sd_watchdog_enabled(3), datagrams to the socket that NOTIFY_SOCKET names.
"""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Callable, Mapping

PARTS = 3
"""So many signs of life to each time that the supervisor waits: half would do (sd_watchdog_enabled(3))."""


class Supervisor:
    """Whoever started the service; `address` None: nobody who wants to know."""

    def __init__(
        self, address: str | None = None, watchdog_s: float | None = None, now_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._now_s = now_s
        self._every_s = None if watchdog_s is None else watchdog_s / PARTS
        self._next_s = now_s()
        self._status: str | None = None
        self._socket: socket.socket | None = None
        self._address = ""
        if address is not None and address[:1] in ("/", "@") and hasattr(socket, "AF_UNIX"):
            self._address = "\0" + address[1:] if address[0] == "@" else address
            self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | getattr(socket, "SOCK_CLOEXEC", 0))
            self._socket.setblocking(False)

    @classmethod
    def of(cls, environ: Mapping[str, str] = os.environ) -> Supervisor:
        """The one that the environment names."""
        is_for_us = environ.get("WATCHDOG_PID") in (None, "", str(os.getpid()))
        usec = environ.get("WATCHDOG_USEC", "")
        watchdog_s = int(usec) / 1e6 if is_for_us and usec.isascii() and usec.isdigit() and int(usec) > 0 else None
        return cls(environ.get("NOTIFY_SOCKET") or None, watchdog_s)

    def runs(self) -> None:
        """The service has begun to serve."""
        self._send("READY=1")

    def stops(self) -> None:
        """The service begins to stop."""
        self._send("STOPPING=1")

    def fares(self, status: str) -> None:
        """How things are, in one line; sent where it has changed."""
        if status != self._status:
            self._status = status
            self._send(f"STATUS={' '.join(status.split())}")

    def lives(self) -> None:
        """A turn of the loop is done. Costs a look at the clock; now and then it is passed on."""
        if self._every_s is not None and (now_s := self._now_s()) >= self._next_s:
            self._next_s = now_s + self._every_s
            self._send("WATCHDOG=1")

    def _send(self, words: str) -> None:
        if self._socket is not None:
            try:
                self._socket.sendto(words.encode(), self._address)
            except OSError:  # nobody listens, or not fast enough: the next word will do
                return
