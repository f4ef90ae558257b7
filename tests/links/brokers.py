"""A broker of a test's own, and who meets there: boards that may be cut off, and a clock that can be put forward."""

from __future__ import annotations

import os
import subprocess
import threading
import time
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from bridge.wire.lines import Report

from ..waiting import free_port, wait_reachable

ROOT = "numbertaker/branch"
OUT = f"{ROOT}/boards/alder/out"
REPORTS = [Report("alder", 17, seq, 1000 + seq, 3, "on") for seq in range(1, 11)]


class Mosquitto:
    """A broker of its own on a free port of this machine, which can be killed and started again."""

    def __init__(self, program: str, folder: Path, settings: tuple[str, ...] = ("allow_anonymous true",)) -> None:
        self._program = program
        self._folder = folder
        self._process: subprocess.Popen[bytes] | None = None
        self.port = free_port()
        own = ["user root"] if os.getuid() == 0 else []
        kept = ["persistence true", f"persistence_location {folder}/", "autosave_interval 1"]
        conf = [*own, *kept, f"listener {self.port} 127.0.0.1", *settings]
        (folder / "broker.conf").write_text("\n".join(conf) + "\n", encoding="utf-8")

    def start(self) -> None:
        with (self._folder / "broker.log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-c", str(self._folder / "broker.conf")], stdout=log, stderr=log
            )
        wait_reachable(self.port, self._folder / "broker.log")

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(5)

    def signal(self, number: int) -> None:
        assert self._process is not None
        self._process.send_signal(number)

    def kill(self) -> None:
        assert self._process is not None
        self._process.kill()
        self._process.wait(5)


class BoardClient:
    """A board, or anybody else on the broker, which may be cut off so that its last will is published."""

    def __init__(self, port: int, will: tuple[str, str] | None = None, **login: str) -> None:
        self.heard: list[tuple[str, bytes, bool]] = []
        self._news = threading.Condition()
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        if will is not None:
            self._client.will_set(will[0], will[1], qos=1, retain=True)
        if login:
            self._client.username_pw_set(login["user"], login["password"])
        self._client.on_message = self._on_message
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def publish(self, topic: str, payload: bytes | str, retain: bool = False) -> None:
        self._client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(5)

    def listen(self, topic: str) -> None:
        there = threading.Event()
        self._client.on_subscribe = lambda *_: there.set()
        self._client.subscribe(topic, 1)
        assert there.wait(5)

    def wait_heard(self, count: int) -> list[tuple[str, bytes, bool]]:
        with self._news:
            assert self._news.wait_for(lambda: len(self.heard) >= count, 5), self.heard
        return self.heard

    def cut(self) -> None:
        """The connection goes without a goodbye."""
        self._client.loop_stop()
        sock = self._client.socket()
        assert sock is not None
        sock.close()

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_message(self, _client, _data, message) -> None:
        with self._news:
            self.heard.append((message.topic, message.payload, message.retain))
            self._news.notify_all()


def commit_all(inbox) -> None:
    for arrival in list(inbox.arrivals):
        if arrival.done is not None:
            arrival.done()


class FastClock:
    """A clock that can be put forward."""

    def __init__(self) -> None:
        self.ahead_s = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead_s
