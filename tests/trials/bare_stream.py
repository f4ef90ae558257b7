"""The least that a stream to a browser can take: a number sent as it is, and a page that does nothing but show it.

Rule: no picture, no framework, no pace: what a page takes longer than this is its own doing.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PAGE = b"""<!doctype html><meta charset="utf-8"><title>bare</title><p id="number">-</p><script>
new EventSource("events").onmessage = (event) => { document.getElementById("number").textContent = event.data; };
</script>"""


class BareStream:
    """Served on a port of its own. `sent`: number and unix seconds of each event, in order."""

    def __init__(self, a_second: float) -> None:
        self.sent: list[tuple[int, float]] = []
        self._step_s = 1 / a_second
        self._stopping = threading.Event()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self._events))
        self._server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        """Nothing is left open."""
        self._stopping.set()
        self._server.shutdown()
        self._server.server_close()

    def _events(self, write: Callable[[bytes], object]) -> None:
        began, n = time.monotonic(), 0
        while not self._stopping.wait(max(0.0005, began + n * self._step_s - time.monotonic())):
            n += 1
            self.sent.append((n, time.time()))
            write(b"data: %d\n\n" % n)


def _handler(events: Callable[[Callable[[bytes], object]], None]) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            if self.path != "/events":
                self.send_header("content-type", "text/html; charset=utf-8")
                self.end_headers()
                self.wfile.write(PAGE)
                return
            self.send_header("content-type", "text/event-stream")
            self.end_headers()
            try:
                events(self.wfile.write)
            except OSError:  # the page has left
                return

        def log_message(self, *_: object) -> None:
            """Nobody reads it."""

    return Handler
