"""Boards on a broker that only toggle their inputs, at a pace that can be changed: what a trial of brokers is spoken to by.

Rule: they are boards as their contract has them: numbered reports at QoS 1, the last 32 kept, `ask` and `again` answered,
`alive` every 2 s. What a broker has not confirmed is sent again by the client's library, as MQTT wants it at QoS 1: so what
is missing afterwards the broker has lost.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.virtual.board import ALIVE_S, Board
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Ask, BoardLine
from bridge.wire.parser import parse_line

KEEP_ALIVE_S = 10
LONGEST_SLEEP_S = 0.2


class RingBoards:
    """Boards by name, each with its inputs. `pace` is turns a second, 0 for none; what reports in one, `_report` says.
    `CATCHES_UP`: of lateness so many turns are made up for, at most."""

    CATCHES_UP = 0.0

    def __init__(
        self, railway: str, port: int, boards: Mapping[str, tuple[int, ...]], login: tuple[str, str] | None
    ) -> None:
        self._root = f"numbertaker/{railway}/boards"
        self._zero = time.monotonic()
        self._lock = threading.Lock()
        self._pacing = threading.Event()
        self._stopping = False
        self._pace = 0.0
        self._turn = 0
        self.boards = {name: Board(name, inputs, 1, 5_000, 0.0) for name, inputs in boards.items()}
        self._clients = {name: self._client(name, port, login) for name in boards}
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()

    @property
    def used(self) -> dict[str, int]:
        """How many numbers each board has used."""
        with self._lock:
            return {name: board.seq for name, board in self.boards.items()}

    def go(self, pace: float) -> None:
        """So many turns a second."""
        self._pace = pace
        self._pacing.set()

    def stop(self) -> None:
        """End, leaving the broker."""
        self._stopping = True
        self._pacing.set()
        self._thread.join()
        for client in self._clients.values():
            client.disconnect()
            client.loop_stop()

    def _client(self, name: str, port: int, login: tuple[str, str] | None) -> Client:
        topic = f"{self._root}/{name}"
        client = Client(CallbackAPIVersion.VERSION2, f"board-{name}")

        def connected(client: Client, *_: Any) -> None:
            client.subscribe(f"{topic}/in", qos=1)
            client.publish(f"{topic}/link", "up", qos=1, retain=True)

        def received(_client: Client, _data: Any, message: Any) -> None:
            line = parse_line(bytes(message.payload).rstrip(b"\r\n"))
            if isinstance(line, (Ask, Again)):
                with self._lock:
                    self._say(name, *self.boards[name].answer(self._t, line))

        client.will_set(f"{topic}/link", "down", qos=1, retain=True)
        client.reconnect_delay_set(1, 1)
        if login is not None:
            client.username_pw_set(*login)
        client.on_connect, client.on_message = connected, received
        self.boards[name].awake = True
        client.connect("127.0.0.1", port, KEEP_ALIVE_S)
        client.loop_start()
        return client

    @property
    def _t(self) -> float:
        return time.monotonic() - self._zero

    def _say(self, name: str, *lines: BoardLine) -> None:
        for line in lines:
            self._clients[name].publish(f"{self._root}/{name}/out", encode(line), qos=1)

    def _report(self, t: float) -> None:
        """What is reported in one turn: here by every board, of one input after the other."""
        for name, board in self.boards.items():
            number = board.inputs[self._turn % len(board.inputs)]
            board.levels[number] = "off" if board.levels[number] == "on" else "on"
            self._say(name, board.report(t, number, board.levels[number]))

    def _speak(self) -> None:
        alive_at = report_at = 0.0
        while not self._stopping:
            with self._lock:
                t = self._t
                if t >= alive_at:
                    alive_at = t + ALIVE_S
                    for name, board in self.boards.items():
                        self._say(name, board.alive(t))
                if self._pace and t >= report_at:
                    report_at = max(report_at + 1 / self._pace, t - self.CATCHES_UP / self._pace)
                    self._turn += 1
                    self._report(t)
            until = min(alive_at, report_at) if self._pace else alive_at
            self._pacing.wait(min(max(until - self._t, 0.001), LONGEST_SLEEP_S))
            if self._pacing.is_set():
                self._pacing.clear()
                report_at = self._t
