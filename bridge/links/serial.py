"""Boards on serial ports: the ports are looked through again and again, and a board is known by what it says.

Rules. A port's name never tells which board is on it: any line of a board does. A device that is no board is not disturbed:
on a port that nobody named nothing is written before a board has spoken there (each does every 2 s), and one where none
speaks is closed and left alone until it is plugged in anew.

DTR and RTS stay as the driver sets them on opening: a board with USB of its own speaks only to a host that has raised DTR.
That this resets some boards is allowed for: they say hello once they are up.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence

from serial.tools import list_ports

from bridge.links.link import Clock, Inbox
from bridge.links.serial_device import place_of
from bridge.links.serial_door import SerialDoor
from bridge.links.serial_names import Names
from bridge.links.serial_port import OpenPort, Patience, SerialPort, link_name, open_port
from bridge.wire.lines import HostLine

ListPorts = Callable[[], Iterable[str]]


def usb_ports() -> list[str]:
    """The USB serial ports of this machine. Others (a console, a modem, Bluetooth) are used only where they are named."""
    return [port.device for port in list_ports.comports() if port.vid is not None]


class SerialLink:
    """All serial ports of this machine as one link; records carry a name for each port: `serial-ttyUSB0`.

    `paths` are named ports (device paths, links to them, pyserial URLs): always tried, never left alone. `list_ports` says
    what else is plugged in.
    """

    name = "serial"

    def __init__(
        self,
        clock: Clock,
        paths: Sequence[str] = (),
        *,
        list_ports: ListPorts = usb_ports,
        open_port: OpenPort = open_port,
        patience: Patience | None = None,
    ) -> None:
        self._clock = clock
        self._paths = tuple(dict.fromkeys(paths))
        self._list_ports = list_ports
        self._open_port = open_port
        self._patience = patience or Patience()
        self._stopping = threading.Event()
        self._ports: dict[str, SerialPort] = {}  # replaced whole by the hunter: other threads read it without a lock
        self._door: SerialDoor | None = None
        self._hunter: threading.Thread | None = None

    @property
    def ports(self) -> tuple[SerialPort, ...]:
        """The ports that are kept now, open or not; to be looked at."""
        return tuple(self._ports.values())

    def start(self, inbox: Inbox) -> None:
        """Begin to look for ports."""
        patience = self._patience
        self._door = SerialDoor(self._clock, inbox, Names(patience.quiet_s, patience.settle_s, patience.proof_s))
        self._hunter = threading.Thread(target=self._hunt, args=(self._door,), name="serial ports", daemon=True)
        self._hunter.start()

    def stop(self) -> None:
        """Close all ports."""
        self._stopping.set()
        if self._hunter is not None:
            self._hunter.join()
        ports = list(self._ports.values())
        for port in ports:
            port.hasten()
        for port in ports:
            port.stop()
        if self._door is not None:
            self._door.shut()

    def send(self, board: str, line: HostLine) -> bool:
        """Write to the port on which this board was last heard; to none while two boards have its name."""
        home = None if self._door is None else self._door.home(board)
        return home is not None and any(port.send(line) for port in self._ports.values() if port.link == home)

    def troubles(self) -> tuple[str, ...]:
        """Ports that cannot be opened or have no board, and boards that share a name."""
        ports = list(self._ports.values())
        in_use_here = {place_of(port.path) for port in ports if port.is_open} - {None}
        said = [
            trouble
            for port in ports
            if (trouble := port.trouble) is not None and (port.is_open or place_of(port.path) not in in_use_here)
        ]
        paths = {port.link: port.path for port in ports}
        shared = {} if self._door is None else self._door.shared
        said += [_why_shut_off(board, [paths.get(link, link) for link in links]) for board, links in shared.items()]
        return tuple(said)

    def _hunt(self, door: SerialDoor) -> None:
        self._keep({}, self._paths, True, door)
        while True:
            listed = self._unnamed()
            gone = [port for port in self._ports.values() if not (port.is_named or port.is_open or port.path in listed)]
            for port in gone:
                port.part()
                door.forget(port.link)
            self._keep({path: port for path, port in self._ports.items() if port not in gone}, listed, False, door)
            door.pass_time()
            if self._stopping.wait(self._patience.scan_s):
                return

    def _keep(self, kept: dict[str, SerialPort], paths: Iterable[str], is_named: bool, door: SerialDoor) -> None:
        """Keep these ports, and begin with those of `paths` that are new."""
        taken = {port.link for port in kept.values()}
        new = {}
        for path in paths:
            if path not in kept and path not in new:
                new[path] = SerialPort(
                    path,
                    is_named=is_named,
                    link=link_name(path, taken),
                    clock=self._clock,
                    open_port=self._open_port,
                    door=door,
                    patience=self._patience,
                )
                taken.add(new[path].link)
        self._ports = {**kept, **new}  # before any of them starts: what it brings may be answered at once
        for port in new.values():
            port.start()

    def _unnamed(self) -> list[str]:
        """What is plugged in and is not, by another path, one of the named ports."""
        named = {place_of(path) for path in self._paths} - {None}
        try:
            return [path for path in self._list_ports() if place_of(path) not in named]
        except Exception:  # a device that went while it was looked at, and what a system's own list may raise
            return [path for path, port in self._ports.items() if not port.is_named]


def _why_shut_off(board: str, paths: Sequence[str]) -> str:
    if len(paths) < 2:
        return f"Two boards called themselves {board}; the one on {' '.join(paths) or 'no port'} is listened to in a moment."
    return (
        f"Two boards call themselves {board}, on {' and '.join(paths)}: neither is listened to, for nobody can tell whose "
        "report is whose. Unplug one and give it another name; the other goes on by itself."
    )
