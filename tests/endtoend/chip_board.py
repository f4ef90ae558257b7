"""A board of the virtual railway that is the real firmware, run in the chip in software, on a cable that may be bad.

Rule: nothing but pins and bytes goes between the railway, the firmware and the host. Contacts bounce, a reader repeats its
tag every 65 ms, and what the cable does to a line is done to its bytes.

The chip's time is the railway's, to the microsecond: it is let run a step at a time on the same timeline.
"""

from __future__ import annotations

import os
import selectors
import subprocess
import threading
import tty
from collections.abc import Callable, Mapping
from pathlib import Path
from random import Random

from bridge.core.plant import Detector
from bridge.virtual.evening import Evening
from bridge.virtual.wires import Hear
from bridge.wire.lines import Again, Ask, BoardLine, HostLine, Report, Watch
from bridge.wire.parser import Parser, checksum, parse_line

READER_S = 0.065
STEP_S = 0.01
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
        at = self._chance.randrange(1, line.rindex(b"*"))
        return (
            b"",
            line[:at] + bytes([line[at] ^ 1 << self._chance.randrange(7)]) + line[at + 1 :],
            line[:at],  # its end is missing, and what follows runs into it
            line[at:],
        )[len(self.damaged) % 4]


class ChipBoard:
    """A wire for `bridge.virtual.live`: the board `board` of an evening, plugged in at `port`, its inputs on these pins."""

    def __init__(
        self, command: list[str], evening: Evening, board: str, pins: Mapping[int, int], port: Path, cut: Cut
    ) -> None:
        self._command, self._timeline, self._board, self._pins = command, evening.timeline, board, pins
        self._port, self._cut = port, cut
        self.asked: list[HostLine] = []
        """What the host has said."""
        self.lines: list[BoardLine] = []
        """What the firmware has said, before anything happened to it."""
        self.usual: list[Report] = []
        """What the railway's own board would have reported in its place."""
        self._levels = {n: level for n, level in evening.boards[board].levels.items() if n in pins}
        self._tag: str | None = None
        self._is_read = False  # the reader goes on sending
        self._stopping = threading.Event()
        evening.scene.inputs.on_raw = self._feel
        self._timeline.after(STEP_S, self._step)

    def start(self, hear: Hear) -> None:
        self._chip = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        self._uart = os.open(self._answer().removeprefix("uart "), os.O_RDWR | os.O_NOCTTY)
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self._tell(*(f"pin {self._pins[n]} {int(level != 'on')}" for n, level in self._levels.items()))
        self._relayer = threading.Thread(target=self._relay, args=(hear,), daemon=True)
        self._relayer.start()
        self._port.symlink_to(os.ttyname(self._slave))

    def say(self, board: str, line: BoardLine) -> bool:
        if isinstance(line, Report):
            self.usual.append(line)
        return board == self._board  # the firmware speaks for itself

    def stop(self) -> None:
        self._stopping.set()
        self._relayer.join(10)
        self._tell("quit")
        assert self._chip.wait(10) == 0
        for handle in (self._uart, self._master, self._slave):
            os.close(handle)
        self._port.unlink()

    # -- the chip, on the railway's timeline ---------------------------------------------------------------------------

    def _step(self) -> None:
        self._tell(f"run {self._now_us()}")
        self._answer()
        self._timeline.after(STEP_S, self._step)

    def _feel(self, detector: Detector, value: str) -> None:
        """Something happens at an input: its contact bounces and then stands; or a tag comes to the reader, or goes."""
        pin = self._pins.get(detector.input)
        if pin is None:
            self._tag = value.removeprefix("tag=") if value != "off" else None
            if self._tag is not None and not self._is_read:
                self._is_read = True
                self._timeline.after(READER_S / 2, self._read)
            return
        level = int(value != "on")  # closed, it pulls the pin to ground
        self._tell(*(f"at {self._now_us() + us} pin {pin} {level ^ n % 2}" for n, us in enumerate(BOUNCE_US)))

    def _read(self) -> None:
        self._is_read = self._tag is not None
        if self._tag is not None:
            frame = f"\x02{self._tag}{checksum(bytes.fromhex(self._tag)):02X}\x03"
            self._tell(f"at {self._now_us()} bytes {frame.encode().hex()}")
            self._timeline.after(READER_S, self._read)

    def _now_us(self) -> int:
        return round(self._timeline.now_s * 1e6)

    def _tell(self, *commands: str) -> None:
        assert self._chip.stdin is not None
        self._chip.stdin.write("".join(f"{command}\n" for command in commands))
        self._chip.stdin.flush()

    def _answer(self) -> str:
        assert self._chip.stdout is not None
        return self._chip.stdout.readline().rstrip("\n")

    # -- the cable -----------------------------------------------------------------------------------------------------

    def _relay(self, hear: Hear) -> None:
        from_chip, from_host = b"", Parser()
        with selectors.DefaultSelector() as selector:
            selector.register(self._uart, selectors.EVENT_READ)
            selector.register(self._master, selectors.EVENT_READ)
            while not self._stopping.is_set():
                for key, _ in selector.select(0.1):
                    data = os.read(key.fd, 4096)
                    if key.fd == self._uart:
                        *lines, from_chip = (from_chip + data).split(b"\n")
                        for raw in lines:
                            self._carry(raw)
                    else:
                        os.write(self._uart, data)
                        for line in from_host.feed(data):
                            if isinstance(line, (Ask, Again, Watch)):
                                self.asked.append(line)
                                hear(self._board, line)

    def _carry(self, raw: bytes) -> None:
        line = parse_line(raw)
        assert isinstance(line, BoardLine), raw
        self.lines.append(line)
        os.write(self._master, self._cut(raw + b"\n"))
