"""Real wires for virtual boards: a pseudo-terminal for each serial board, a client on a broker for each MQTT board.

Rule: a wire carries what boards and host say and judges nothing. What a host sends that is no line is dropped, as a board
would drop it.
"""

from __future__ import annotations

import os
import selectors
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import Protocol

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from bridge.wire.encode import encode
from bridge.wire.lines import Again, Ask, BoardLine, HostLine, Line, Reject, Watch
from bridge.wire.parser import Parser, parse_line

Hear = Callable[[str, HostLine], None]
KEEP_ALIVE_S = 15


class Wire(Protocol):
    """Some boards' way to the host."""

    def start(self, hear: Hear) -> None:
        """Open; from now on `hear(board, line)` is called with what the host says, from any thread."""

    def say(self, board: str, line: BoardLine) -> bool:
        """Send a board's line; False where this wire is not that board's."""

    def turn_link(self, board: str, up: bool) -> None:
        """A board's link is down, or up again, where this wire has a word for it."""

    def stop(self) -> None:
        """Close."""


class Terminals:
    """A pseudo-terminal a board. `paths` are there from the start, for the host to open.

    Raises OSError on a system that has none.
    """

    def __init__(self, boards: Iterable[str]) -> None:
        self._masters: dict[str, int] = {}
        self._slaves: list[int] = []  # kept open: else a host that closes its end would end ours
        self.paths: dict[str, str] = {}
        try:
            import tty  # not to be had on every system
        except ImportError:
            raise OSError("this system has no pseudo-terminals; put all boards on a broker") from None
        for board in boards:
            master, slave = os.openpty()
            tty.setraw(slave)
            os.set_blocking(master, False)
            self._masters[board] = master
            self._slaves.append(slave)
            self.paths[board] = os.ttyname(slave)
        self._wake_out, self._wake_in = os.pipe()
        self._thread: threading.Thread | None = None

    def start(self, hear: Hear) -> None:
        """Listen to the host on every terminal."""
        self._thread = threading.Thread(target=self._listen, args=(hear,), name="pseudo-terminals", daemon=True)
        self._thread.start()

    def say(self, board: str, line: BoardLine) -> bool:
        """Write a line; it is lost where nobody has read for long, as on a real wire."""
        master = self._masters.get(board)
        if master is None:
            return False
        with suppress(OSError):
            os.write(master, encode(line))
        return True

    def turn_link(self, board: str, up: bool) -> None:
        """A terminal has no such word."""

    def stop(self) -> None:
        """Close every terminal."""
        os.write(self._wake_in, b"x")
        if self._thread is not None:
            self._thread.join()
        for handle in (*self._masters.values(), *self._slaves, self._wake_in, self._wake_out):
            os.close(handle)
        self._masters, self._slaves = {}, []

    def _listen(self, hear: Hear) -> None:
        parsers = {board: Parser() for board in self._masters}
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_out, selectors.EVENT_READ, None)
            for board, master in self._masters.items():
                selector.register(master, selectors.EVENT_READ, board)
            while True:
                for key, _ in selector.select():
                    if key.data is None:
                        return
                    with suppress(OSError):
                        for line in parsers[key.data].feed(os.read(key.fd, 4096)):
                            _hand_on(hear, key.data, line)


class BrokerBoards:
    """Boards on a broker, a client each, so that each has its own last will."""

    def __init__(self, railway: str, host: str, port: int, boards: Iterable[str]) -> None:
        self._root = f"numbertaker/{railway}"
        self._host, self._port = host, port
        self._clients = {board: Client(CallbackAPIVersion.VERSION2, f"virtual-{railway}-{board}") for board in boards}
        self._operator = Client(CallbackAPIVersion.VERSION2, f"virtual-{railway}-operator")

    def start(self, hear: Hear) -> None:
        """Connect every board. Raises OSError where the broker is not reached."""
        for board, client in self._clients.items():
            self._prepare(board, client, hear)
        for client in (self._operator, *self._clients.values()):
            client.connect(self._host, self._port, KEEP_ALIVE_S)
            client.loop_start()

    def _prepare(self, board: str, client: Client, hear: Hear) -> None:
        topic = f"{self._root}/boards/{board}"

        def connected(client: Client, _data: object, _flags: object, _reason: ReasonCode, _properties: object) -> None:
            client.subscribe(f"{topic}/in", qos=1)
            client.publish(f"{topic}/link", "up", qos=1, retain=True)

        def received(_client: Client, _data: object, message: MQTTMessage) -> None:
            _hand_on(hear, board, parse_line(bytes(message.payload).rstrip(b"\r\n")))

        client.will_set(f"{topic}/link", "down", qos=1, retain=True)
        client.on_connect = connected
        client.on_message = received

    def say(self, board: str, line: BoardLine) -> bool:
        """Publish a board's line."""
        client = self._clients.get(board)
        if client is None:
            return False
        client.publish(f"{self._root}/boards/{board}/out", encode(line), qos=1)
        return True

    def turn_link(self, board: str, up: bool) -> None:
        """The word of a board, or of its last will."""
        client = self._clients.get(board)
        if client is not None:
            client.publish(f"{self._root}/boards/{board}/link", "up" if up else "down", qos=1, retain=True)

    def tell(self, words: str) -> None:
        """Tell the bridge an operator's words."""
        self._operator.publish(f"{self._root}/operator", words, qos=1)

    def stop(self) -> None:
        """Every board says that it is gone, and leaves."""
        for board, client in self._clients.items():
            with suppress(ValueError, RuntimeError):
                client.publish(f"{self._root}/boards/{board}/link", "down", qos=1, retain=True).wait_for_publish(1.0)
        for client in (self._operator, *self._clients.values()):
            client.disconnect()
            client.loop_stop()


def _hand_on(hear: Hear, board: str, line: Line | Reject) -> None:
    if isinstance(line, (Ask, Again, Watch)):
        hear(board, line)
