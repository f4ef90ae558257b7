"""One serial port, kept: opened, read, closed when it is lost, and opened again, on a thread of its own.

Rule: no error of a port or its driver ends the thread, and no handle outlives a loss. A lost port still calls itself open in
pyserial, so it is closed here and never trusted.
"""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable, Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import serial

from bridge.links.link import Arrival, Clock, Inbox, at
from bridge.wire.encode import encode
from bridge.wire.lines import Ask, BoardLine, HostLine, Reject
from bridge.wire.parser import BoardParser
from bridge.wire.records import Closed, Opened, Received, Record, Rejected

BAUD = 115_200
READ_S = 0.25  # how long a read or write waits: bounds how late a vanished path or a stop is noticed

OpenPort = Callable[[str], serial.Serial]


@dataclass(frozen=True, slots=True)
class Patience:
    """How long the serial link waits, in seconds."""

    scan_s: float = 1.0
    first_retry_s: float = 0.5
    longest_retry_s: float = 2.0
    foreign_after_s: float = 10.0


def open_port(path: str) -> serial.Serial:
    """Open a port or pyserial URL for this program alone; raises what pyserial raises."""
    write_timeout = None if path.startswith("rfc2217:") else READ_S  # there pyserial refuses to have one
    return serial.serial_for_url(path, baudrate=BAUD, timeout=READ_S, write_timeout=write_timeout, exclusive=True)


def link_name(path: str, taken: Collection[str]) -> str:
    """The name of a port in the journal, without blanks: `serial-ttyUSB0`, with a number behind it where that is taken."""
    plain = "serial-" + "-".join(path.replace("\\", "/").rstrip("/").rsplit("/", 1)[-1].split())
    return next(name for n in range(1, len(taken) + 2) if (name := plain if n == 1 else f"{plain}-{n}") not in taken)


class SerialPort:
    """A port that is kept open. `board` is the board last heard on it, `trouble` what is wrong with it now."""

    def __init__(
        self,
        path: str,
        *,
        is_named: bool,
        link: str,
        clock: Clock,
        open_port: OpenPort,
        inbox: Inbox,
        patience: Patience,
    ) -> None:
        self.path = path
        self.is_named = is_named
        self.link = link
        self.board: str | None = None
        self.trouble: str | None = None
        self._clock = clock
        self._open_port = open_port
        self._inbox = inbox
        self._patience = patience
        self._handle: serial.Serial | None = None
        self._writing = threading.Lock()  # a write must not meet a handle that is being closed
        self._is_foreign = False
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._keep, name=link, daemon=True)

    @property
    def is_open(self) -> bool:
        """Whether it is open as far as is known."""
        return self._handle is not None

    def start(self) -> None:
        """Begin to keep it open."""
        self._thread.start()

    def stop(self) -> None:
        """Close it for good."""
        self._stopping.set()
        self._thread.join()

    def send(self, line: HostLine) -> bool:
        """Write a line; whether it was written. A port that fails here is found lost by its reader."""
        with self._writing:
            if self._handle is None:
                return False
            try:
                self._handle.write(encode(line))
            except Exception:  # what a driver raises is not only OSError
                return False
            return True

    def _keep(self) -> None:
        wait_s = self._patience.first_retry_s
        while not self._stopping.is_set():
            handle = self._opened()
            if handle is not None:
                parser = BoardParser()
                self._read(handle, parser)
                self._closed(handle, parser)
                if self._is_foreign:
                    return
                if self.board is not None:
                    wait_s = self._patience.first_retry_s
            if self._stopping.wait(wait_s):
                return
            wait_s = min(2 * wait_s, self._patience.longest_retry_s)

    def _opened(self) -> serial.Serial | None:
        try:
            handle = self._open_port(self.path)
        except Exception as error:  # pyserial lets termios.error and ValueError through
            self.trouble = _why_not_open(self.path, error)
            return None
        self.trouble = None
        self._handle = handle
        self._inbox(Arrival((Opened(at(self._clock), self.link),)))
        if self.is_named and self.board is None:  # a board known here is asked by whoever knows what it has still to send
            self.send(Ask())
        return handle

    def _read(self, handle: serial.Serial, parser: BoardParser) -> None:
        """Read until the port is stopped, lost, or found to have no board."""
        place = place_of(self.path)
        opened_at = self._clock()
        while not self._stopping.is_set():
            data = _bytes_from(handle)
            if data is None:
                return
            if data:
                self._take(parser.feed(data))
            elif place is not None and place_of(self.path) != place:
                return
            if self.board is None and self._clock() - opened_at > self._patience.foreign_after_s:
                self._give_up_on_silence()
                if self._is_foreign:
                    return

    def _closed(self, handle: serial.Serial, parser: BoardParser) -> None:
        with self._writing, suppress(Exception):  # the handle of a vanished device may refuse even this
            self._handle = None
            handle.close()
        if not self._stopping.is_set():
            self._take(parser.finish(), Closed(at(self._clock), self.link))

    def _take(self, said: Iterable[BoardLine | Reject], *more: Record) -> None:
        t = at(self._clock)
        records: list[Record] = []
        for item in said:
            if isinstance(item, Reject):
                records.append(Rejected(t, self.link, item.reason.value, item.raw))
            else:
                self.board, self.trouble = item.board, None
                records.append(Received(t, self.link, item))
        records.extend(more)
        if records:
            self._inbox(Arrival(tuple(records)))

    def _give_up_on_silence(self) -> None:
        if self.is_named:
            self.trouble = (
                f"{self.path} is open, but no board speaks there. Check its firmware, its cable, and that it sends at "
                f"{BAUD} baud."
            )
        else:
            self._is_foreign = True
            self.trouble = (
                f"No board spoke on {self.path}, so it is left alone. If a board is there, check its firmware and plug it "
                "in again, or name the port in railway.toml."
            )


def _bytes_from(handle: serial.Serial) -> bytes | None:
    """All that has come, at least a byte, or nothing after `READ_S`; None where the port is lost."""
    try:
        return handle.read(handle.in_waiting or 1)
    except Exception:  # SerialException on a read, plain OSError on in_waiting, and what drivers add to these
        return None


def place_of(path: str) -> Path | None:
    """Where a path leads now: a link may come to lead to another device. None where the path is no file (any more)."""
    try:
        return Path(path).resolve(strict=True)
    except (OSError, RuntimeError):  # RuntimeError: a link that leads in a circle
        return None


def _why_not_open(path: str, error: Exception) -> str:
    match getattr(error, "errno", None):
        case errno.ENOENT | errno.ENODEV | errno.ENXIO:
            return f"{path} is not there. Plug the board in: it is looked for all the time."
        case errno.EACCES | errno.EPERM:
            return (
                f"You may not open {path}. On Linux let this user into the group that owns it (ls -l {path}; most often "
                "dialout or uucp) and log in again."
            )
        case errno.EBUSY | errno.EAGAIN:
            return f"{path} is in use by another program. Close it there: a serial monitor, an upload, a second numbertaker."
    return f"{path} could not be opened ({error}). It is tried again all the time."
