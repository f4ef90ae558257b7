"""Boards and operators on an MQTT broker.

Rules. A message is acknowledged only when `done` of its arrival is called, after the journal commit: with a client id that
stays and a session that the broker keeps, what was not committed comes again. So does what was committed and could not be
acknowledged: an arrival says under which packet identifier it came, and whether it may have come before. Subscribing happens
on every connection and its answer is checked. A missing broker is waited for, for ever, never more than 5 s between two
tries.

MQTT 5 rather than 3.1.1, because there the client itself says how many messages may wait for their acknowledgement (the
usual broker allows 20, which would hold a burst back for every commit, and everything where no commit is possible for a
while) and for how long the broker keeps its session.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from functools import partial
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from bridge.links.broker import Broker, new_client, wishes
from bridge.links.connection import Connection
from bridge.links.link import ANEW, Arrival, Clock, Delivery, Inbox, at
from bridge.links.topics import LINK, filters_of, read_message, topic_of
from bridge.wire.encode import encode
from bridge.wire.lines import HostLine
from bridge.wire.records import BoardUp, Closed, Opened, Received

__all__ = ["Broker", "MqttLink"]

KEEP_ALIVE_S = 10
LONGEST_RETRY_S = 5
SESSION_S = 86_400  # what was reported longer ago than a day is no use to a session, and a broker must not keep it for ever
MOST_QUEUED = 1_000  # what waits to be published while the broker is away


class MqttLink:
    """All boards of one railway that speak through a broker. `boards` are those the railway folder says do."""

    name = LINK

    def __init__(self, clock: Clock, railway: str, broker: Broker, boards: Iterable[str] = ()) -> None:
        self._clock = clock
        self._railway = railway
        self.broker = broker
        self._boards = set(boards)
        self._client: Client | None = None
        self._inbox: Inbox | None = None
        self._connection = Connection(clock, broker.where, f"numbertaker/{railway}/boards/")
        self._connections = 0  # an acknowledgement is good only on the connection that brought the message
        self._is_forgotten = False
        self._is_stopping = False

    def start(self, inbox: Inbox) -> None:
        """Begin to connect, whether or not a broker is there. Raises ValueError for a railway that makes no topic."""
        filters_of(self._railway)
        self._inbox = inbox
        try:
            client = self._new_client()
        except (OSError, UnicodeError) as error:  # the file of the certificate, or a host name that cannot be one
            self._connection.cannot_be(error)
            return
        self._client = client
        client.loop_start()

    def stop(self) -> None:
        """Leave the broker, which keeps the session for the next start."""
        self._is_stopping = True
        if self._client is not None:
            self._client.disconnect()
            self._client.loop_stop()
        self._connection.closed()

    def send(self, board: str, line: HostLine) -> bool:
        """Publish to a board that is known to be on this broker; not kept for later where the broker is away."""
        if self._client is None or not self._connection.is_open or board not in self._boards:
            return False
        topic = topic_of(self._railway, "boards", board, "in")
        return self._client.publish(topic, encode(line), qos=1).rc == MQTTErrorCode.MQTT_ERR_SUCCESS

    def publish(self, suffix: str, payload: str | bytes, retain: bool = False) -> bool:
        """Publish under `numbertaker/<railway>/<suffix>`; whether it went out or waits for the broker to come back.

        Raises ValueError where the suffix makes no topic.
        """
        topic = topic_of(self._railway, suffix)
        if self._client is None:
            return False
        sent = self._client.publish(topic, payload, qos=1, retain=retain)
        return sent.rc in (MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_NO_CONN)

    def troubles(self) -> tuple[str, ...]:
        """Why the broker is not reached, or what it refuses or forgets."""
        return self._connection.troubles(bool(self._boards))

    def _new_client(self) -> Client:
        client = new_client(self.broker, f"numbertaker-{self._railway}")
        client.reconnect_delay_set(1, LONGEST_RETRY_S)
        client.max_queued_messages_set(MOST_QUEUED)
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_subscribe = self._on_subscribe
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        broker = self.broker
        client.connect_async(broker.host, broker.port, KEEP_ALIVE_S, clean_start=False, properties=wishes(SESSION_S))
        return client

    def _arrive(self, arrival: Arrival) -> None:
        if self._inbox is not None and not self._is_stopping:
            self._inbox(arrival)

    def _on_connect(
        self, client: Client, _data: Any, flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self._connection.refused(str(reason))
            return
        self._connections += 1
        self._connection.connected(flags.session_present)
        self._is_forgotten = not flags.session_present
        client.subscribe([(name, 1) for name in filters_of(self._railway)])

    def _on_connect_fail(self, _client: Client, _data: Any) -> None:
        self._connection.not_reached(sys.exc_info()[1])  # the library calls this while it handles what went wrong

    def _on_subscribe(self, _client: Client, _data: Any, _mid: int, reasons: list[ReasonCode], _properties: Any) -> None:
        refused = [name for name, reason in zip(filters_of(self._railway), reasons, strict=False) if reason.is_failure]
        if refused:
            self._connection.not_allowed(refused)
        else:
            self._opened()

    def _opened(self) -> None:
        """Boards are heard from here on: what is asked of them now will not be answered in vain."""
        if not self._connection.is_open:
            self._connection.opened()
            delivery = Delivery(ANEW) if self._is_forgotten else None
            self._arrive(Arrival((Opened(at(self._clock), LINK),), delivery=delivery))

    def _on_disconnect(
        self, _client: Client, _data: Any, _flags: DisconnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if not self._connection.is_open:
            return
        self._connection.lost(str(reason))
        self._arrive(Arrival((Closed(at(self._clock), LINK),)))

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        self._opened()  # a session that the broker has kept delivers before it answers the subscription
        self._connection.heard()
        try:
            name = message.topic
        except UnicodeDecodeError:  # no broker should let it pass
            name = ""
        records = read_message(at(self._clock), self._railway, name, bytes(message.payload), message.retain)
        for record in records:
            if isinstance(record, BoardUp):
                self._boards.add(record.board)
            elif isinstance(record, Received):
                self._boards.add(record.line.board)
        done = partial(self._acknowledge, self._connections, message.mid, message.qos)
        if records and message.qos:
            self._arrive(Arrival(records, done, Delivery(message.mid, message.dup)))
        elif records:
            self._arrive(Arrival(records))
        else:
            done()

    def _acknowledge(self, connection: int, mid: int, qos: int) -> None:
        if self._client is not None and self._connection.is_open and connection == self._connections:
            self._client.ack(mid, qos)
