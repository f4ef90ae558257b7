"""A board of the virtual railway that is the real firmware, run in the chip in software, on a cable that may be bad.

Rule: nothing but pins and bytes goes between the railway, the firmware and the host. Contacts bounce, a reader repeats its
tag every 65 ms, and what the cable does to a line is done to its bytes.

What happens on the railway happens to the chip a little later, but in its own time exactly as long: else a busy machine
would swallow the moment in which a magnet passes.
"""

from __future__ import annotations

import os
import selectors
import subprocess
import threading
import tty
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from random import Random

from bridge.core.plant import Detector
from bridge.virtual.wires import Hear
from bridge.wire.lines import Again, Ask, BoardLine, HostLine, Report, Watch
from bridge.wire.parser import Parser, checksum, parse_line

READER_S = 0.065
LATER_S = 0.4
BOUNCE_US = (0, 180, 700, 1500, 2400)
Cut = Callable[[bytes], bytes]
"""What becomes of a line (with its LF) on the way to the host."""


def whole(line: bytes) -> bytes:
    """A good cable."""
    return line


class BadCable:
    """Every third report is damaged on its first way; what is sent again comes through, and so do other lines, mostly."""

    def __init__(self, seed: int) -> None:
        self._chance = Random(seed)
        self._seen: set[int] = set()
        self.damaged: list[int] = []
        """The numbers of the reports that were."""

    def __call__(self, line: bytes) -> bytes:
        read = parse_line(line.rstrip(b"\r\n"))
        if not isinstance(read, Report) or read.seq in self._seen:
            return line
        self._seen.add(read.seq)
        if len(self._seen) % 3:
            return line
        self.damaged.append(read.seq)
        at = self._chance.randrange(len(line) - 1)
        return (
            b"",
            line[:at] + bytes([line[at] ^ 1 << self._chance.randrange(7)]) + line[at + 1 :],
            line[:at],  # its end is missing, and what follows runs into it
            line[at:],
        )[len(self.damaged) % 4]


class ChipBoard:
    """A wire for `bridge.virtual.live`: the board `board`, with these pins for its inputs, plugged in at `port`."""

    def __init__(
        self,
        command: list[str],
        board: str,
        pins: Mapping[int, int],
        port: Path,
        clock: Callable[[], float],
        speed: float,
        cut: Cut,
    ) -> None:
        self._command, self._board, self._pins = command, board, pins
        self._port, self._clock, self._speed, self._cut = port, clock, speed, cut
        self.asked: list[HostLine] = []
        """What the host has said."""
        self.lines: list[BoardLine] = []
        """What the firmware has said, before anything happened to it."""
        self.stands: Mapping[int, str] = {}
        """How inputs stand at first."""
        self._writing = threading.Lock()
        self.usual: list[Report] = []
        """What the railway's own board would have reported in its place."""
        self._tag: str | None = None
        self._next_s = 0.0  # when the reader is to send its tag again
        self._reading = threading.Lock()
        self._stopping = threading.Event()

    def start(self, hear: Hear) -> None:
        self._chip = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self._chip.stdout is not None
        said = self._chip.stdout.readline().split()
        assert said[0] == "uart", said
        self._uart = os.open(said[1], os.O_RDWR | os.O_NOCTTY)
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self._port.symlink_to(os.ttyname(self._slave))
        self._tell(*(f"pin {self._pins[number]} {int(level != 'on')}" for number, level in self.stands.items()))
        self._tell(f"pace {self._speed}")
        self._zero_us = int(self._chip.stdout.readline().split()[1]) - self._clock() * 1e6
        self._threads = [
            threading.Thread(target=self._relay, args=(hear,), daemon=True),
            threading.Thread(target=self._read_tags, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def feel(self, detector: Detector, value: str, t_s: float) -> None:
        """Something happens at an input: its contact bounces and then stands; or a tag comes to the reader, or goes."""
        if detector.board != self._board:
            return
        pin = self._pins.get(detector.input)
        if pin is None:
            with self._reading:
                self._send_tags(t_s)
                self._tag = value.removeprefix("tag=") if value != "off" else None
                self._next_s = t_s + READER_S / 2
            return
        level = int(value != "on")  # closed, it pulls the pin to ground
        at_us = self._at_us(t_s)
        self._tell(*(f"at {at_us + us} pin {pin} {level ^ n % 2}" for n, us in enumerate(BOUNCE_US)))

    def say(self, board: str, line: BoardLine) -> bool:
        if isinstance(line, Report):
            self.usual.append(line)
        return board == self._board  # the firmware speaks for itself

    def stop(self) -> None:
        self._stopping.set()
        for thread in self._threads:
            thread.join(10)
        self._tell("quit")
        assert self._chip.wait(10) == 0
        for handle in (self._uart, self._master, self._slave):
            os.close(handle)
        self._port.unlink()

    def _tell(self, *commands: str) -> None:
        assert self._chip.stdin is not None
        with self._writing:
            self._chip.stdin.write("".join(f"{command}\n" for command in commands))
            self._chip.stdin.flush()

    def _at_us(self, t_s: float) -> int:
        return round(self._zero_us + (t_s + LATER_S) * 1e6)

    def _read_tags(self) -> None:
        while not self._stopping.wait(READER_S / self._speed):
            with self._reading:
                self._send_tags(self._clock() - LATER_S / 2)

    def _send_tags(self, until_s: float) -> None:
        while self._tag is not None and self._next_s <= until_s:
            sum_ = checksum(bytes.fromhex(self._tag))
            self._tell(f"at {self._at_us(self._next_s)} bytes {f'{chr(2)}{self._tag}{sum_:02X}{chr(3)}'.encode().hex()}")
            self._next_s += READER_S

    def _relay(self, hear: Hear) -> None:
        parser, held = Parser(), b""
        with selectors.DefaultSelector() as selector:
            selector.register(self._uart, selectors.EVENT_READ)
            selector.register(self._master, selectors.EVENT_READ)
            while not self._stopping.is_set():
                for key, _ in selector.select(0.1):
                    data = os.read(key.fd, 4096)
                    if key.fd == self._master:
                        os.write(self._uart, data)
                        for line in parser.feed(data):
                            if isinstance(line, (Ask, Again, Watch)):
                                self.asked.append(line)
                                hear(self._board, line)
                        continue
                    *lines, held = (held + data).split(b"\n")
                    for raw in lines:
                        self._note(raw)
                        with suppress(OSError):
                            os.write(self._master, self._cut(raw + b"\n"))

    def _note(self, raw: bytes) -> None:
        line = parse_line(raw)
        assert isinstance(line, BoardLine), raw
        self.lines.append(line)
