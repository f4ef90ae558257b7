"""Who comes to a broker, and with which passwords."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

NOT_AUTHORIZED = 0x87  # MQTT 5.0, table 2-6
ROOT = "numbertaker/oxlip"


class Visitor:
    """Somebody on the broker. `answer` is what the broker says to the connection: 0 lets in."""

    def __init__(self, port: int, user: str | None = None, password: str | None = None, name: str = "") -> None:
        self._client = Client(CallbackAPIVersion.VERSION2, name, protocol=MQTTProtocolVersion.MQTTv5)
        self._news = threading.Condition()
        self._answers: list[int] = []
        self.acknowledged: dict[int, int] = {}
        self.heard: list[tuple[str, bytes]] = []
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_connect = lambda _c, _d, _f, reason, _p: self._note(self._answers.append, reason.value)
        self._client.on_subscribe = lambda *_: self._note(self._answers.append, 0)
        self._client.on_publish = lambda _c, _d, mid, reason, _p: self._note(
            lambda value: self.acknowledged.__setitem__(mid, value), reason.value
        )
        self._client.on_message = lambda _c, _d, message: self._note(self.heard.append, (message.topic, message.payload))
        kept = Properties(PacketTypes.CONNECT)
        kept.SessionExpiryInterval = 600 if name else 0
        self._client.connect("127.0.0.1", port, clean_start=not name, properties=kept)
        self._client.loop_start()
        self.answer = self._answered()

    def listen(self, *topics: str) -> Visitor:
        self._client.subscribe([(topic, 1) for topic in topics])
        self._answered()
        return self

    def publish(self, topic: str, payload: str = "x") -> int:
        """The broker's answer."""
        mid = self._client.publish(topic, payload, qos=1).mid
        self._wait(lambda: mid in self.acknowledged)
        return self.acknowledged[mid]

    def wait(self, count: int) -> list[tuple[str, bytes]]:
        self._wait(lambda: len(self.heard) >= count)
        return self.heard

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _answered(self) -> int:
        self._wait(lambda: self._answers)
        return self._answers.pop()

    def _wait(self, is_so: Callable[[], object]) -> None:
        with self._news:
            assert self._news.wait_for(is_so, 10), self.heard[-3:]

    def _note(self, keep: Callable, value: object) -> None:
        with self._news:
            keep(value)
            self._news.notify_all()


def passwords(folder: Path) -> tuple[str, str]:
    return tuple((folder / name).read_text().strip() for name in ("broker-password", "broker/board-password"))
