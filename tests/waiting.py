"""Waiting for what is to be so, and for who is to be there: with a deadline, and never a fixed time in hope."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")
HOST = "127.0.0.1"


def wait_for(is_so: Callable[[], T], seconds: float = 15.0) -> T:
    """What it comes to, as soon as it is so; fails where it is not in time."""
    until = time.monotonic() + seconds
    while not (found := is_so()):
        assert time.monotonic() < until, f"not within {seconds} s"
        time.sleep(0.005)
    return found


def free_port() -> int:
    """A port of this machine at which nobody listens."""
    with socket.create_server((HOST, 0)) as probe:
        port: int = probe.getsockname()[1]
        return port


def wait_reachable(port: int, log: Path | None = None, seconds: float = 20.0) -> None:
    """Returns as soon as somebody listens at a port here; fails with what is logged where nobody does in time."""
    until = time.monotonic() + seconds
    while not _is_reachable(port):
        assert time.monotonic() < until, log.read_text(encoding="utf-8") if log is not None else port
        time.sleep(0.01)


def _is_reachable(port: int) -> bool:
    try:
        socket.create_connection((HOST, port), 1).close()
    except OSError:
        return False
    return True
