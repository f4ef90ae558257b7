"""A capture file played into the inbox: a session of yesterday, at its own pace, faster, or at once.

Rule: records keep the seconds they were captured with, so that whoever reads them runs on the capture's time. A fault in the
file is handed to the fault callback and playing goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

from bridge.links.link import Arrival, Clock, Inbox
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.lines import HostLine


class CaptureLink:
    """Plays the lines of a capture. `speed` 1.0 is the pace at which it was captured, None is at once.

    `clock` is read for the pace alone. `finished` is set behind the last record.
    """

    name = "capture"

    def __init__(
        self,
        clock: Clock,
        lines: Iterable[bytes | str],
        on_fault: Callable[[CaptureFault], None],
        speed: float | None = None,
    ) -> None:
        self._clock = clock
        self._lines = lines
        self._on_fault = on_fault
        self._speed = speed
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self.finished = threading.Event()

    def start(self, inbox: Inbox) -> None:
        """Begin to play."""
        self._thread = threading.Thread(target=self._play, args=(inbox,), name="capture", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop where it is."""
        self._stopping.set()
        if self._thread is not None:
            self._thread.join()

    def send(self, board: str, line: HostLine) -> bool:
        """A capture cannot be asked: always False."""
        return False

    def troubles(self) -> tuple[str, ...]:
        """None: faults go to the callback."""
        return ()

    def _play(self, inbox: Inbox) -> None:
        began: tuple[float, float] | None = None
        for record in read_capture(self._lines):
            if isinstance(record, CaptureFault):
                self._on_fault(record)
                continue
            if self._speed is not None:
                began = began or (self._clock(), record.t)
                self._wait_until(began[0] + (record.t - began[1]) / self._speed)
            if self._stopping.is_set():
                return
            inbox(Arrival((record,)))
        self.finished.set()

    def _wait_until(self, moment: float) -> None:
        while (left := moment - self._clock()) > 0 and not self._stopping.wait(left):
            pass
