"""The state as retained messages on the broker: who subscribes has all of it at once, then what changes.

Rules. Nobody waits for the broker: the newest things lie here until it takes them, and what they were in between is gone.
A round goes out once the broker has confirmed all of the one before, so what is underway is bounded by the number of
things. On every connection all of it goes out anew, what the broker still holds and nothing stands for is cleared, and
`bridge` says `here` only then. A connection of its own: boards and what they report never stand in line behind it.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Mapping
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from bridge.links.broker import Broker, new_client
from bridge.links.link import Inbox
from bridge.links.topics import topic_of
from bridge.published import BRIDGE, TICK, Row, Things, bridge_is, things, ticking
from bridge.wire.lines import HostLine

KEEP_ALIVE_S = 10
LONGEST_RETRY_S = 5
PACE_S = 0.1
REST = 10
"""Between two rounds so many times as long as the broker took for the last: one that saves each message (6 ms for each,
measured) must have its time for what boards report."""
LONGEST_REST_S = 5.0
TICK_S = 1.0
GOODBYE_S = 0.5
"""How long a stop waits for the broker to take the last word."""


class StateTopics:
    """All topics `numbertaker/<railway>/state/...` of one railway. As a link it brings nothing and reaches no board."""

    name = "state"

    def __init__(self, railway: str, broker: Broker) -> None:
        self._railway, self._broker = railway, broker
        self._client: Client | None = None
        self._news = threading.Condition()
        self._snapshot: Row | None = None
        self._is_new = False
        self._there: dict[str, Row] = {}
        self._owed = 0  # messages that the broker has not confirmed; what is resent on another connection counts once
        self._is_open = self._is_said = self._is_stopping = False
        self._tick_at = 0.0
        self._refused: str | None = None
        self._failed: str | None = None
        self._thread = threading.Thread(target=self._publish, name="state topics", daemon=True)

    def show(self, snapshot: Mapping[str, Any]) -> None:
        """Take the newest snapshot, never changed from here on; from any thread, at once."""
        with self._news:
            self._snapshot, self._is_new = snapshot, True
            self._news.notify()

    def start(self, inbox: Inbox) -> None:
        """Begin to connect, whether or not a broker is there. Raises ValueError for a railway that makes no topic."""
        self._topic(BRIDGE)
        try:
            self._client = self._new_client()
        except (OSError, UnicodeError):  # the link to the boards tells of it
            return
        self._client.loop_start()
        self._thread.start()

    def stop(self) -> None:
        """Say goodbye, where the broker hears, and leave it. The state stays there as it was."""
        with self._news:
            self._is_stopping = True
            self._news.notify()
        if self._client is None:
            return
        self._thread.join()
        if self._is_open:
            self._send(BRIDGE, bridge_is("stopped"))
            with self._news:
                self._news.wait_for(lambda: not self._owed or not self._is_open, GOODBYE_S)
        self._client.disconnect()
        self._client.loop_stop()

    def send(self, board: str, line: HostLine) -> bool:
        """No board is reached this way."""
        return False

    @property
    def waiting(self) -> int:
        """How many messages the broker has not confirmed: at most one for each thing, the bridge's and the clock's."""
        return self._owed

    def troubles(self) -> tuple[str, ...]:
        """What the broker refuses; that it is not reached is told by the link to the boards."""
        if self._failed is not None:
            return (f"The state is no longer published to other programs, as that failed: {self._failed}. Start it again.",)
        if self._refused is None:
            return ()
        return (
            f"The broker {self._broker.where} does not let numbertaker write {self._topic('#')} ({self._refused}), so other "
            "programs do not see the state. Allow it to this user in the broker's access list.",
        )

    def _topic(self, suffix: str) -> str:
        return f"{topic_of(self._railway, 'state')}/{suffix}"

    def _new_client(self) -> Client:
        client = new_client(self._broker, f"numbertaker-{self._railway}-state")
        client.reconnect_delay_set(1, LONGEST_RETRY_S)
        client.will_set(self._topic(BRIDGE), _text(bridge_is("gone")), qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_publish = self._on_publish
        client.on_message = self._on_message
        client.connect_async(self._broker.host, self._broker.port, KEEP_ALIVE_S, clean_start=True)
        return client

    def _on_connect(
        self, client: Client, _data: Any, _flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if reason.is_failure:
            return
        client.subscribe(self._topic("#"), options=SubscribeOptions(qos=0, noLocal=True))
        with self._news:
            self._is_open, self._is_said = True, False
            self._there = {}
            self._news.notify()

    def _on_disconnect(
        self, _client: Client, _data: Any, _flags: DisconnectFlags, _reason: ReasonCode, _properties: Properties | None
    ) -> None:
        with self._news:
            self._is_open = False
            self._news.notify()

    def _on_publish(self, _client: Client, _data: Any, _mid: int, reason: ReasonCode, _properties: Properties) -> None:
        with self._news:
            self._owed -= 1
            self._refused = str(reason) if reason.is_failure else None
            self._news.notify()

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        """The broker has kept something: where nothing stands for it any more, it is cleared with the next round."""
        suffix = message.topic.removeprefix(self._topic(""))
        with self._news:
            if message.retain and message.payload and suffix not in (BRIDGE, *self._there):
                self._there[suffix] = {}
                self._is_new = True
                self._news.notify()

    def _publish(self) -> None:
        try:
            self._go_on()
        except Exception as error:  # whatever it is: nobody is to take for true what is not kept so
            self._failed = f"{type(error).__name__}: {error}"
            self._send(BRIDGE, bridge_is("stopped"))

    def _go_on(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._is_stopping or self._may_go_out())
                if self._is_stopping:
                    return
                snapshot, self._is_new = self._snapshot, False
            assert snapshot is not None
            began_s = time.monotonic()
            self._round(things(snapshot))
            self._tick(snapshot)
            with self._news:
                self._news.wait_for(lambda: self._is_stopping or not self._owed)
                rest_s = max(PACE_S, REST * (time.monotonic() - began_s)) if self._is_said else PACE_S
                self._news.wait_for(lambda: self._is_stopping, min(rest_s, LONGEST_REST_S))

    def _may_go_out(self) -> bool:
        has_news = self._is_new or not self._is_said
        return self._is_open and not self._owed and self._snapshot is not None and has_news

    def _round(self, stands: Things) -> None:
        """Publish what has changed; where nothing had to be, and all of before is confirmed, that the bridge is here."""
        with self._news:
            there = self._there
        changed = {suffix: row for suffix, row in stands.items() if there.get(suffix) != row}
        for suffix, row in changed.items():
            self._send(suffix, row)
        gone = [suffix for suffix in list(there) if suffix not in stands]
        for suffix in gone:
            self._send(suffix, None)
        with self._news:
            if there is not self._there:  # another connection meanwhile: all goes out anew
                return
            there.update(changed)
            for suffix in gone:
                there.pop(suffix, None)
        if not self._is_said and not changed and not gone:
            self._is_said = True
            self._send(BRIDGE, bridge_is("here"))

    def _tick(self, snapshot: Row) -> None:
        if time.monotonic() >= self._tick_at:
            self._tick_at = time.monotonic() + TICK_S
            self._send(TICK, ticking(snapshot), retain=False)

    def _send(self, suffix: str, row: Row | None, retain: bool = True) -> None:
        """Publish a thing, or that it is no more. Never under the lock: the library confirms under one of its own."""
        assert self._client is not None
        with self._news:
            self._owed += 1
        sent = self._client.publish(self._topic(suffix), "" if row is None else _text(row), qos=1, retain=retain)
        if sent.rc not in (MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_NO_CONN):
            with self._news:
                self._owed -= 1


def _text(row: Row) -> str:
    return json.dumps(row, ensure_ascii=False, separators=(",", ":"))
