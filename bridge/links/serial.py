"""Boards on serial ports: the ports are looked through again and again, and a board is known by what it says.

Rules. A port's name never tells which board is on it: any line of a board does. A device that is no board is not disturbed:
on a port that nobody named nothing is written before a board has spoken there (each does every 2 s), and one where none
speaks is closed and left alone until it is plugged in anew.

DTR and RTS stay as the driver sets them on opening: a board with USB of its own speaks only to a host that has raised DTR.
That this resets some boards is allowed for: they say hello once they are up.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from serial.tools import list_ports

from bridge.links.link import Clock, Inbox
from bridge.links.serial_port import OpenPort, Patience, SerialPort, link_name, open_port, place_of
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
        self._hunter: threading.Thread | None = None

    def start(self, inbox: Inbox) -> None:
        """Begin to look for ports."""
        self._hunter = threading.Thread(target=self._hunt, args=(inbox,), name="serial ports", daemon=True)
        self._hunter.start()

    def stop(self) -> None:
        """Close all ports."""
        self._stopping.set()
        if self._hunter is not None:
            self._hunter.join()
        for port in self._ports.values():
            port.stop()

    def send(self, board: str, line: HostLine) -> bool:
        """Write to the port on which this board was last heard."""
        return any(port.send(line) for port in self._ports.values() if port.board == board)

    def troubles(self) -> tuple[str, ...]:
        """Ports that cannot be opened or have no board, and boards that share a name."""
        said = []
        paths = defaultdict(list)
        ports = list(self._ports.values())
        in_use_here = {place_of(port.path) for port in ports if port.is_open} - {None}
        for port in ports:
            if port.trouble is not None and (port.is_open or place_of(port.path) not in in_use_here):
                said.append(port.trouble)
            if port.board is not None and port.is_open:
                paths[port.board].append(port.path)
        for board, shared in paths.items():
            if len(shared) > 1:
                said.append(f"Two boards call themselves {board}, on {' and '.join(shared)}: give one of them another name.")
        return tuple(said)

    def _hunt(self, inbox: Inbox) -> None:
        self._ports = self._with(self._paths, True, {}, inbox)
        while True:
            listed = self._unnamed()
            gone = [path for path, port in self._ports.items() if not (port.is_named or port.is_open or path in listed)]
            for path in gone:
                self._ports[path].stop()
            kept = {path: port for path, port in self._ports.items() if path not in gone}
            self._ports = self._with(listed, False, kept, inbox)
            if self._stopping.wait(self._patience.scan_s):
                return

    def _with(
        self, paths: Iterable[str], is_named: bool, ports: dict[str, SerialPort], inbox: Inbox
    ) -> dict[str, SerialPort]:
        for path in paths:
            if path not in ports:
                ports[path] = SerialPort(
                    path,
                    is_named=is_named,
                    link=link_name(path, {port.link for port in ports.values()}),
                    clock=self._clock,
                    open_port=self._open_port,
                    inbox=inbox,
                    patience=self._patience,
                )
                ports[path].start()
        return ports

    def _unnamed(self) -> list[str]:
        """What is plugged in and is not, by another path, one of the named ports."""
        named = {place_of(path) for path in self._paths} - {None}
        try:
            return [path for path in self._list_ports() if place_of(path) not in named]
        except OSError:  # a device that went while it was looked at
            return [path for path, port in self._ports.items() if not port.is_named]
