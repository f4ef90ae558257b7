"""A Mosquitto that is killed and started again, with a settings file of one's own choice.

Rule: a kill is SIGKILL, and what the broker finds again is what its settings had it keep.
"""

from __future__ import annotations

import socket
import subprocess
import time
from pathlib import Path

HOST = "127.0.0.1"


def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with socket.create_server((HOST, 0)) as probe:
        return int(probe.getsockname()[1])


class MortalBroker:
    """Runs from `start` to `kill`."""

    def __init__(self, program: str, settings: Path, port: int) -> None:
        self._command = [program, "-c", str(settings)]
        self._port = port
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and wait until it can be reached. Raises OSError where it does not come up."""
        self._process = subprocess.Popen(self._command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 10.0
        while True:
            try:
                socket.create_connection((HOST, self._port), 0.2).close()
                return
            except OSError:
                if time.monotonic() > until or self._process.poll() is not None:
                    raise
                time.sleep(0.005)

    def kill(self) -> None:
        """At once, whatever it is doing."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
