"""A client on a broker that waits for each answer: with it a broker is examined.

Rule: nothing here waits for ever; what does not come in time is None or False, or missing from what was heard.
"""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, Self

from paho.mqtt.client import ConnectFlags, MQTTMessage
from paho.mqtt.reasoncodes import ReasonCode

from bridge.links.broker import Broker, new_client, wishes

ANSWER_S = 3.0
KEEP_ALIVE_S = 10
AT_ONCE = 250
SESSION_S = 300  # should this program be killed, the broker forgets its sessions by itself


class NotThereError(Exception):
    """The broker does not answer, or not so that it could be examined; the message says what it does."""


class Visit:
    """One connection to a broker; `is_kept`: with a session that the broker is to keep when it is left or cut."""

    def __init__(self, broker: Broker, name: str, *, is_kept: bool = False, will: str | None = None) -> None:
        """Connect. Raises NotThereError where the broker does not let us in, and what wrong settings raise."""
        self.heard: list[tuple[str, bytes, bool]] = []
        self.had_session = False
        self._is_kept = is_kept
        self._news = threading.Condition()
        self._confirmed: dict[int, int] = {}
        self._subscribed: list[int] = []
        self._answer: str | None = None
        self._client = new_client(broker, name)
        if will is not None:
            self._client.will_set(will, b"gone", qos=1)
        self._client.max_inflight_messages_set(AT_ONCE)
        self._client.on_connect = self._on_connect
        self._client.on_connect_fail = lambda *_: None
        self._client.on_subscribe = self._on_subscribe
        self._client.on_publish = self._on_publish
        self._client.on_message = self._on_message
        try:
            socket.create_connection((broker.host, broker.port), ANSWER_S).close()
            self._client.connect(
                broker.host,
                broker.port,
                KEEP_ALIVE_S,
                clean_start=not is_kept,
                properties=wishes(SESSION_S if is_kept else 0),
            )
        except (OSError, UnicodeError) as error:
            raise NotThereError(str(error)) from error
        self._client.loop_start()
        if not self._wait(lambda: self._answer is not None):
            self.leave()
            raise NotThereError("it takes the connection, and says nothing that would be MQTT")
        if self._answer:
            self.leave()
            raise NotThereError(self._answer)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.leave()

    def listen(self, topics: Sequence[str]) -> bool:
        """Subscribe; whether the broker says that it does."""
        before = len(self._subscribed)
        self._client.subscribe([(topic, 1) for topic in topics])
        return self._wait(lambda: len(self._subscribed) > before) and self._subscribed[-1] == 0

    def publish(self, topic: str, payload: bytes = b"", *, retain: bool = False) -> int | None:
        """The broker's answer: below 128 it has taken it (MQTT 5.0, 3.4.2.1); None where there is none."""
        mid = self._client.publish(topic, payload, qos=1, retain=retain).mid
        self._wait(lambda: mid in self._confirmed)
        return self._confirmed.get(mid)

    def publish_many(self, topic: str, count: int, longest_s: float) -> int:
        """Publish numbers from 0 until there are so many or time is up; how many the broker has confirmed."""
        mids: list[int] = []
        until = time.monotonic() + longest_s
        while len(mids) < count and time.monotonic() < until:
            last = min(len(mids) + AT_ONCE, count)
            mids += [self._client.publish(topic, b"%d" % n, qos=1).mid for n in range(len(mids), last)]
            if not self._wait(partial(self._confirmed.__contains__, mids[-1])):
                break
        return sum(self._confirmed.get(mid, 255) < 128 for mid in mids)

    def wait_heard(self, count: int, longest_s: float = ANSWER_S) -> bool:
        """Until so many messages have come; whether they have."""
        return self._wait(lambda: len(self.heard) >= count, longest_s)

    def cut(self) -> None:
        """The connection goes without a goodbye."""
        self._client.loop_stop()
        sock = self._client.socket()
        if sock is not None:
            sock.close()

    def leave(self) -> None:
        """Say goodbye; the session stays where it is one to be kept."""
        self._client.disconnect()
        self._client.loop_stop()

    def _wait(self, is_so: Callable[[], bool], longest_s: float = ANSWER_S) -> bool:
        with self._news:
            return self._news.wait_for(is_so, longest_s)

    def _on_connect(self, _client: Any, _data: Any, flags: ConnectFlags, reason: ReasonCode, _properties: Any) -> None:
        with self._news:
            self._answer = str(reason) if reason.is_failure else ""
            self.had_session = flags.session_present
            self._news.notify_all()

    def _on_subscribe(self, _client: Any, _data: Any, _mid: int, reasons: list[ReasonCode], _properties: Any) -> None:
        with self._news:
            self._subscribed.append(sum(reason.is_failure for reason in reasons))
            self._news.notify_all()

    def _on_publish(self, _client: Any, _data: Any, mid: int, reason: ReasonCode, _properties: Any) -> None:
        with self._news:
            self._confirmed[mid] = reason.value
            self._news.notify_all()

    def _on_message(self, _client: Any, _data: Any, message: MQTTMessage) -> None:
        """Not acknowledged: what is not stays with the broker, which is what is examined."""
        with self._news:
            self.heard.append((message.topic, bytes(message.payload), message.retain))
            self._news.notify_all()


def forget(broker: Broker, name: str) -> None:
    """Have the broker drop a session that it was to keep."""
    Visit(broker, name).leave()
