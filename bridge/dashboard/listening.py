"""Serving the dashboard: a thread of its own, and connections that are given up when nobody takes what is sent.

Rule: a phone that sleeps or walks away costs a bounded buffer for ten seconds at most, and stopping takes no longer because
pages are open.
"""

from __future__ import annotations

import asyncio
import socket
import struct
import threading
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI
from uvicorn.protocols.http.h11_impl import H11Protocol

DRAIN_S = 6.0
"""With what buffers hold before they are full, a page that has stopped reading is gone within ten seconds."""
SEND_BUFFER_BYTES = 65_536
"""What the system may hold back for one page: small, so that a page that wakes sees the present and not a backlog."""
STOP_S = 2
START_S = 10.0


class PatientProtocol(H11Protocol):
    """A connection that is cut when its peer has taken nothing for `DRAIN_S` seconds."""

    drain_s = DRAIN_S
    _giving_up: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Bound what the system buffers and how long it waits for a peer that has vanished."""
        super().connection_made(transport)
        raw = transport.get_extra_info("socket")
        if raw is not None:
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES)
            if hasattr(socket, "TCP_USER_TIMEOUT") and raw.family in (socket.AF_INET, socket.AF_INET6):
                raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, int(self.drain_s * 1000))

    def pause_writing(self) -> None:
        """The peer is behind: its time begins."""
        super().pause_writing()
        if self._giving_up is None:
            self._giving_up = self.loop.call_later(self.drain_s, self._give_up)

    def resume_writing(self) -> None:
        """The peer has caught up."""
        super().resume_writing()
        self._keep()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nothing is left to wait for."""
        self._keep()
        super().connection_lost(exc)

    def _give_up(self) -> None:
        """Cut it off, and have the system forget what it still holds for the peer too (a reset, not a goodbye behind it)."""
        raw = self.transport.get_extra_info("socket")
        if raw is not None:
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.transport.abort()

    def _keep(self) -> None:
        if self._giving_up is not None:
            self._giving_up.cancel()
            self._giving_up = None


class DashboardServer(uvicorn.Server):
    """A server that ends the open streams before it waits for connections to close."""

    def __init__(self, config: uvicorn.Config, end_streams: Callable[[], None]) -> None:
        super().__init__(config)
        self._end_streams = end_streams

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then stop as the library does."""
        self._end_streams()
        await super().shutdown(sockets)


class Listening:
    """A dashboard being served in a thread of its own. `host` and `port` are where it listens."""

    def __init__(self, server: DashboardServer, listener: socket.socket) -> None:
        self.host, self.port = listener.getsockname()[:2]
        self._server = server
        self._thread = threading.Thread(target=server.run, args=([listener],), name="dashboard", daemon=True)
        self._thread.start()

    @property
    def url(self) -> str:
        """The page's address on this machine."""
        host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(self.host, self.host)
        return f"http://[{host}]:{self.port}/" if ":" in host else f"http://{host}:{self.port}/"

    def leave(self) -> None:
        """Begin to stop. May be called by a signal's handler."""
        self._server.should_exit = True

    def stop(self) -> None:
        """End streams and connections, and wait until the thread has ended. May be called twice."""
        self.leave()
        self._thread.join(timeout=START_S)


def listen(app: FastAPI, host: str, port: int, *, protocol: type[PatientProtocol] = PatientProtocol) -> Listening:
    """Serve an app of `create_app` or `create_founding` at `host` and `port` (0: any that is free); connections are taken
    from here on.

    Raises OSError with a sentence for the person at the keyboard where the address cannot be had.
    """
    try:
        listener = socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET)
    except OSError as error:
        what = f"cannot listen at {host}:{port} ({error.strerror or error})"
        raise OSError(error.errno, f"{what}: stop the program that is there, or choose another with --listen") from error
    config = uvicorn.Config(
        app,
        http=protocol,
        ws="none",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=STOP_S,
    )
    return Listening(DashboardServer(config, app.state.end_streams), listener)
