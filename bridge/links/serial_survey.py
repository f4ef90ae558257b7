"""What is plugged in and who speaks there: every serial port looked at for some seconds.

Rules. It goes by the serial link's own rules: on a port that nobody named nothing is written before a board has spoken
there, and ports that are not USB are opened only where they are named. A board that has not told how many inputs it has is
asked once.
"""

from __future__ import annotations

import math
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from serial.tools import list_ports

from bridge.links.link import Arrival
from bridge.links.serial import SerialLink
from bridge.links.serial_device import holders, place_of
from bridge.links.serial_port import Patience
from bridge.wire.lines import Ask, BoardLine, Edge, Hello, Reject, RejectReason
from bridge.wire.parser import parse_board_line
from bridge.wire.records import Received, Rejected
from bridge.wire.withheld import rejects_withheld

_PATIENCE = Patience(foreign_after_s=math.inf, first_hang_s=math.inf)  # nothing is given up within some seconds


@dataclass(frozen=True, slots=True)
class Device:
    """A serial port as the system describes it. `usb`: maker and product, as "1A86:7523", None where it is not USB."""

    path: str
    description: str = ""
    usb: str | None = None


@dataclass(slots=True)
class BoardHeard:
    """A board that spoke; `boot` None where only raw edges came, `inputs` None where it has not told."""

    boot: int | None = None
    inputs: int | None = None
    lines: int = 0


@dataclass(slots=True)
class PortSeen:
    """One port. `tried`: it was to be opened; `opened`: it could be; `trouble`: a sentence; `held_by`: other programs."""

    device: Device
    is_named: bool
    tried: bool = False
    opened: bool = False
    trouble: str | None = None
    held_by: tuple[str, ...] = ()
    boards: dict[str, BoardHeard] = field(default_factory=dict)
    rejected: Counter[str] = field(default_factory=Counter)


def devices() -> list[Device]:
    """The serial ports of this machine; empty where the system's list cannot be read."""
    with suppress(Exception):  # a device that goes while it is looked at, and what a system's own list may raise
        return [
            Device(port.device, "" if port.description == "n/a" else port.description or "", _usb(port.vid, port.pid))
            for port in list_ports.comports()
        ]
    return []


def survey(
    named: Sequence[str], seconds: float, list_devices: Callable[[], Iterable[Device]] = devices
) -> tuple[list[PortSeen], tuple[str, ...]]:
    """Look at all ports, listening that long; the ports in the system's order, named ones first, and what is wrong."""
    by_place = {_place(device.path): device for device in list_devices()}
    seen = [PortSeen(_named(path, by_place), True, tried=True) for path in dict.fromkeys(named)]
    known = {_place(path) for path in named}
    others = [device for place, device in by_place.items() if place not in known]
    seen += [PortSeen(device, False, tried=device.usb is not None) for device in others]
    unnamed = [port.device.path for port in seen if port.tried and not port.is_named]
    link = SerialLink(time.monotonic, named, list_ports=lambda: unnamed, patience=_PATIENCE)
    ear = _Ear(link)
    link.start(ear.take)
    with suppress(KeyboardInterrupt):  # whoever does not want to wait is told what has been heard
        time.sleep(seconds)
    kept = {port.path: port for port in link.ports}
    for port in seen:
        mine = kept.get(port.device.path)
        if mine is not None:
            port.opened, port.trouble = mine.is_open, mine.trouble
            port.boards, port.rejected = ear.heard(mine.link)
        port.held_by = holders(port.device.path)
    troubles = link.troubles()
    link.stop()
    return seen, tuple(trouble for trouble in troubles if trouble not in {port.trouble for port in seen})


class _Ear:
    """Counts what comes, by link; called from the link's threads."""

    def __init__(self, link: SerialLink) -> None:
        self._link = link
        self._lock = threading.Lock()
        self._boards: dict[str, dict[str, BoardHeard]] = {}
        self._rejected: dict[str, Counter[str]] = {}
        self._asked: set[str] = set()

    def heard(self, link: str) -> tuple[dict[str, BoardHeard], Counter[str]]:
        """The boards heard on a link, and how much was rejected there, by reason."""
        with self._lock:
            return self._boards.get(link, {}), self._rejected.get(link, Counter())

    def take(self, arrival: Arrival) -> None:
        """Take what has come."""
        with self._lock:
            for record in arrival.records:
                if isinstance(record, Received):
                    self._line(record.link, record.line)
                elif isinstance(record, Rejected):
                    self._reject(record)

    def _reject(self, record: Rejected) -> None:
        said = parse_board_line(record.raw)
        if record.reason == RejectReason.SAME_NAME.value and not isinstance(said, Reject):
            self._line(record.link, said)  # a good line, though it does not count
        else:
            counted = rejects_withheld(record) or {record.reason: 1}
            self._rejected.setdefault(record.link, Counter()).update(counted)

    def _line(self, link: str, line: BoardLine) -> None:
        board = self._boards.setdefault(link, {}).setdefault(line.board, BoardHeard())
        board.lines += 1
        if isinstance(line, Hello):
            board.inputs = line.inputs
        if not isinstance(line, Edge):
            board.boot = line.boot
        if board.inputs is None and line.board not in self._asked and self._link.send(line.board, Ask()):
            self._asked.add(line.board)


def _place(path: str) -> str:
    """Where a path leads; on a system whose ports are no files, the path."""
    return str(place_of(path) or path)


def _named(path: str, by_place: Mapping[str, Device]) -> Device:
    device = by_place.get(_place(path))
    return Device(path) if device is None else Device(path, device.description, device.usb)


def _usb(vid: int | None, pid: int | None) -> str | None:
    return None if vid is None else f"{vid:04X}:{pid or 0:04X}"
