"""One serial port, kept: opened, read, closed when it is lost, and opened again, on a thread of its own.

Rules. No error of a port or its driver ends the thread, and no handle outlives a loss. A lost port still calls itself open
in pyserial, so it is closed here and never trusted. A port that says nothing more without any error may hang: it is closed
and opened again, at growing intervals.

What becomes of a flood. A port is read at no more than `bytes_s`, several times what 115200 baud carry, and not at all while
the inbox holds it back: nothing piles up here. What is not read waits in the system's buffer of some thousand bytes; when
that is full the newest bytes are lost on a wire, and a device with a flow control of its own waits. Lines that were so cut
are rejected, their numbers are a gap, and the board is asked for them again.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import serial

from bridge.links.link import Clock
from bridge.links.serial_device import BAUD, holders, place_of, why_not_open, why_shared, why_silent
from bridge.links.serial_door import SerialDoor
from bridge.wire.encode import encode
from bridge.wire.lines import Ask, HostLine, Reject
from bridge.wire.parser import BoardParser

READ_S = 0.25  # how long a read or write waits: bounds how late a vanished path or a stop is noticed
READ_BYTES = 4096
EMPTY_READS = 3  # so many on end that did not wait: the end of the stream, whatever the driver calls it
SHARED_S = 10.0  # for so long a sign that another program reads is told, and a second sign is a proof

OpenPort = Callable[[str], serial.Serial]


@dataclass(frozen=True, slots=True)
class Patience:
    """How long the serial link waits, in seconds; `bytes_s` is the most it reads from a port in one."""

    scan_s: float = 1.0
    first_retry_s: float = 0.5
    longest_retry_s: float = 1.0
    foreign_after_s: float = 10.0
    first_hang_s: float = 8.0
    longest_hang_s: float = 60.0
    quiet_s: float = 4.5
    settle_s: float = 2.0
    proof_s: float = 0.5
    bytes_s: int = 65_536


def open_port(path: str) -> serial.Serial:
    """Open a port or pyserial URL for this program alone; raises what pyserial raises."""
    write_timeout = None if path.startswith("rfc2217:") else READ_S  # there pyserial refuses to have one
    return serial.serial_for_url(path, baudrate=BAUD, timeout=READ_S, write_timeout=write_timeout, exclusive=True)


def link_name(path: str, taken: Collection[str]) -> str:
    """The name of a port in the journal, without blanks: `serial-ttyUSB0`, with a number behind it where that is taken."""
    plain = "serial-" + "-".join(path.replace("\\", "/").rstrip("/").rsplit("/", 1)[-1].split())
    return next(name for n in range(1, len(taken) + 2) if (name := plain if n == 1 else f"{plain}-{n}") not in taken)


class SerialPort:
    """A port that is kept open. `board` is the board last heard on it; `is_open` holds until its loss has been told."""

    def __init__(
        self,
        path: str,
        *,
        is_named: bool,
        link: str,
        clock: Clock,
        open_port: OpenPort,
        door: SerialDoor,
        patience: Patience,
    ) -> None:
        self.path = path
        self.is_named = is_named
        self.link = link
        self.board: str | None = None
        self.is_open = False
        self._clock = clock
        self._open_port = open_port
        self._door = door
        self._patience = patience
        self._handle: serial.Serial | None = None
        self._writing = threading.Lock()  # a write must not meet a handle that is being closed
        self._trouble: str | None = None
        self._shared: tuple[float, str | None] | None = None
        self._is_stuck = self._is_broken = self._is_foreign = self._is_parting = False
        self._heard_t = self._silent_t = 0.0
        self._hang_s = patience.first_hang_s
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._keep, name=link, daemon=True)

    @property
    def trouble(self) -> str | None:
        """What is wrong with it now: a sentence with its remedy."""
        shared = self._shared
        is_shared = shared is not None and self._clock() - shared[0] < SHARED_S
        return shared[1] if shared is not None and is_shared and shared[1] is not None else self._trouble

    def start(self) -> None:
        """Begin to keep it open."""
        self._thread.start()

    def part(self) -> None:
        """Have it closed for good, without waiting for that; if it was open, that is told."""
        self._is_parting = True
        self._stopping.set()

    def hasten(self) -> None:
        """Have it closed for good, without waiting for that, and without a word."""
        self._stopping.set()

    def stop(self) -> None:
        """Close it for good, without a word."""
        self._stopping.set()
        self._thread.join()

    def send(self, line: HostLine) -> bool:
        """Write a line; whether it was written. A port that fails here is lost, and so is one that twice takes nothing."""
        with self._writing:
            if self._handle is None or self._is_broken:
                return False
            try:
                self._handle.write(encode(line))
            except Exception as error:  # what a driver raises is not only OSError
                self._is_broken = self._is_stuck or not isinstance(error, serial.SerialTimeoutException)
                self._is_stuck = True
                return False
            self._is_stuck = False
            return True

    def _keep(self) -> None:
        wait_s = self._patience.first_retry_s
        while not self._stopping.is_set():
            place = place_of(self.path)  # before it is opened, for it may be made to lead elsewhere at any time
            handle = self._opened()
            if handle is not None:
                opened_t = self._heard_t = self._silent_t = self._clock()
                parser = BoardParser()
                self._read(handle, parser, place or place_of(self.path))
                self._close(handle, parser)
                if self._is_foreign:
                    return
                if self._heard_t > opened_t:
                    wait_s = self._patience.first_retry_s
            if self._stopping.wait(wait_s):
                return
            wait_s = min(2 * wait_s, self._patience.longest_retry_s)

    def _opened(self) -> serial.Serial | None:
        try:
            handle = self._open_port(self.path)
        except Exception as error:  # pyserial lets termios.error and ValueError through
            self._trouble = why_not_open(self.path, error)
            if place_of(self.path) is None:  # it was the device that went
                self._shared = None
            return None
        was_silent = self._hang_s > self._patience.first_hang_s  # and so is until a line has come
        self._trouble = self._why_silent() if was_silent else None
        self._is_stuck = self._is_broken = False
        self._handle = handle
        if not self._stopping.is_set():
            self.is_open = True
            self._door.opened(self.link)
            if self.is_named and self.board is None:  # whoever knows a board knows what it has still to send, too
                self.send(Ask())
        return handle

    def _read(self, handle: serial.Serial, parser: BoardParser, place: Path | None) -> None:
        """Read until the port is stopped, lost, hangs, or is found to have no board."""
        looked_t = self._clock()
        empty_reads = 0
        while not (self._stopping.is_set() or self._is_broken):
            began_s = time.monotonic()
            data = self._bytes_from(handle)
            now = self._clock()
            if data is None:
                return
            if data:
                empty_reads = 0
                self._take(parser, data)
                self._stopping.wait(len(data) / self._patience.bytes_s)
            else:
                empty_reads = empty_reads + 1 if time.monotonic() - began_s < READ_S / 2 else 0
                if empty_reads == EMPTY_READS:
                    return
            if not data or now - looked_t >= READ_S:
                looked_t = now
                if (place is not None and place_of(self.path) != place) or self._is_given_up(now):
                    return

    def _bytes_from(self, handle: serial.Serial) -> bytes | None:
        """All that has come, at least a byte, or nothing after `READ_S`; None where the port is lost."""
        try:
            return handle.read(min(handle.in_waiting or 1, READ_BYTES))
        except Exception as error:  # SerialException on a read, plain OSError on in_waiting, and what drivers add to these
            if "multiple access" in str(error):  # so pyserial words an empty read; it is a device that goes, too
                self._suspect()
            return None

    def _take(self, parser: BoardParser, data: bytes) -> None:
        said = parser.feed(data)
        for item in said:
            if not isinstance(item, Reject):
                self.board, self._trouble = item.board, None
                self._heard_t, self._hang_s = self._clock(), self._patience.first_hang_s
        if said:
            self._door.said(self.link, said)

    def _close(self, handle: serial.Serial, parser: BoardParser) -> None:
        with self._writing:
            self._handle = None
        with suppress(Exception):  # what nobody takes would hold the closing up
            handle.reset_output_buffer()
        with suppress(Exception):  # the handle of a vanished device may refuse even this
            handle.close()
        if self.is_open and (self._is_parting or not self._stopping.is_set()):
            self._door.said(self.link, parser.finish())
            self._door.closed(self.link)
        self.is_open = False

    def _is_given_up(self, now: float) -> bool:
        """Whether it has been silent for so long that it is to be closed."""
        if self.board is not None:
            if now - self._heard_t <= self._hang_s:
                return False
            self._hang_s = min(2 * self._hang_s, self._patience.longest_hang_s)
            self._trouble = self._why_silent()
            return True
        if now - self._silent_t > self._patience.foreign_after_s:
            self._silent_t = now
            self._trouble = self._why_silent()
        return self._is_foreign

    def _why_silent(self) -> str | None:
        if self.board is not None and self._door.home(self.board) not in (None, self.link):
            return None  # it has been moved, and is heard there
        others = holders(self.path)
        if others:
            return why_shared(self.path, others)
        self._is_foreign = not self.is_named and self.board is None
        return why_silent(self.path, self.board, self.is_named)

    def _suspect(self) -> None:
        """A read came to nothing: the device goes, or another program was first. A second time proves it."""
        t = self._clock()
        others = holders(self.path)
        is_second = self._shared is not None and t - self._shared[0] < SHARED_S and place_of(self.path) is not None
        self._shared = (t, why_shared(self.path, others) if others or is_second else None)
