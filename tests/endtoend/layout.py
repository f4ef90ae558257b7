"""A whole layout in one process: virtual boards on pseudo-terminals and a broker, the service behind them, its page.

Rule: nothing between the boards and the page is put in place of the real thing; only the clock is a faster one, and it is
the same one for the boards and for the host.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from bridge.cli.private_broker import HOST
from bridge.cli.rehearsal import wiring
from bridge.cli.run import publisher
from bridge.dashboard import create_app, listen
from bridge.folder import FolderRead
from bridge.links.link import Arrival
from bridge.links.mqtt import Broker, MqttLink
from bridge.links.serial import SerialLink
from bridge.service.core import CORE
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.service.sleep import Vigil
from bridge.virtual.evening import Evening
from bridge.virtual.live import Live
from bridge.wire.records import Received

from .pace import Pace, Underway, WatchedWire

Row = Mapping[str, Any]
LONGEST_S = 120.0


class Subscriber:
    """A stranger on the broker who writes down what the bridge says there: `lines`, as they came."""

    def __init__(self, railway: str, port: int) -> None:
        self.lines: list[str] = []
        self._news = threading.Condition()
        self._client = Client(CallbackAPIVersion.VERSION2, "stranger")
        self._client.on_message = self._heard
        listening = threading.Event()
        self._client.on_subscribe = lambda *_: listening.set()
        self._client.connect(HOST, port)
        self._client.loop_start()
        self._client.subscribe(f"numbertaker/{railway}/says/#", qos=1)
        assert listening.wait(10)

    def _heard(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        with self._news:
            self.lines.append(message.payload.decode())
            self._news.notify_all()

    def wait_for(self, count: int) -> None:
        """Until so many lines have come."""
        with self._news:
            assert self._news.wait_for(lambda: len(self.lines) >= count, 20), (len(self.lines), count)

    def stop(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


class Layout:
    """Boards, service and page of one evening. `rows` is what the service said, as it said it."""

    def __init__(self, folder: FolderRead, evening: Evening, store: Path, broker_port: int, speed: float) -> None:
        assert folder.railway is not None
        plant = folder.railway.plant
        self.rows: list[Row] = []
        self.store = store
        underway = Underway()
        self.clock = Pace(speed, underway.is_late)
        self.evening = evening
        self.over = threading.Event()
        self._news = threading.Condition()
        self._failures: list[BaseException] = []
        wires = wiring(plant, (HOST, broker_port))
        began = time.time()
        resumed = take_up(
            store, folder, CORE, folder_again=lambda: None, monotonic=self.clock, wall=lambda: began + self.clock()
        )
        vigil = Vigil(resumed.clock, lambda: self.clock() / speed, lambda: 0.0)  # a machine that is late does not sleep
        resumed = replace(resumed, vigil=vigil)
        self._shift_s = self.clock() - resumed.clock()
        broker = MqttLink(resumed.clock, plant.id, Broker(HOST, broker_port), wires.by_broker)
        links = [SerialLink(resumed.clock, tuple(wires.paths.values()), list_ports=list), broker]
        self.log: list[str] = []
        self.service = Service(resumed, links, CORE, [self._hear, publisher(broker)], self.log.append)
        self.listening = listen(create_app(self.service), HOST, 0)
        self._received, self.service.inbox.put = self.service.inbox.put, self._receive
        self._underway = underway
        wires = [WatchedWire(wire, underway) for wire in wires.wires]
        self._live = Live(evening, wires, self.clock, speed=speed, on_words=self._crew_tells, on_over=self.over.set)
        self._threads = [threading.Thread(target=self._guard, args=(run,)) for run in (self.service.run, self._live.run)]

    def __enter__(self) -> Layout:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.service.stop()
        self._threads[0].join(20)
        self._live.stop()
        self._threads[1].join(20)
        self.listening.stop()
        assert self._failures == []
        assert not any(thread.is_alive() for thread in self._threads)

    def wait(self, is_so: Callable[[Row], object]) -> Row:
        """The first row said, so far or from now on, that is so."""
        found: list[Row] = []
        looked = 0

        def look() -> bool:
            nonlocal looked
            found.extend(row for row in self.rows[looked:] if is_so(row))
            looked = len(self.rows)
            return bool(found) or bool(self._failures)

        with self._news:
            assert self._news.wait_for(look, LONGEST_S), (self.rows[-3:], self.log)
        assert self._failures == []
        return found[0]

    def host_s(self, evening_s: float) -> float:
        """The host's second at a second of the evening."""
        return evening_s + self._live.zero_s - self._shift_s

    def host_s_at(self, wall: float) -> float:
        """The host's second at a time of day (unix seconds)."""
        return self.clock.at(wall) - self._shift_s

    def wall(self, host_s: float) -> float:
        """The time of day (unix seconds) at a second of the host."""
        return self.clock.wall(host_s + self._shift_s)

    def truth(self) -> dict[str, Any]:
        """What has really happened."""
        return json.loads(self.evening.truth_json())

    @property
    def shift_s(self) -> float:
        """From the seconds of the truth to the host's."""
        return self.host_s(0.0)

    def _receive(self, arrival: Arrival) -> None:
        for record in arrival.records:
            if isinstance(record, Received):
                self._underway.received(record.line)
        self._received(arrival)

    def _hear(self, row: Row) -> None:
        with self._news:
            self.rows.append(row)
            self._news.notify_all()

    def _crew_tells(self, words: str) -> None:
        def answered(future: Any) -> None:
            if not future.result().accepted:
                self._failures.append(AssertionError(f"{words}: {future.result().text}"))

        self.service.tell(words, "crew").add_done_callback(answered)

    def _guard(self, run: Callable[[], None]) -> None:
        try:
            run()
        except BaseException as error:
            with self._news:
                self._failures.append(error)
                self._news.notify_all()
