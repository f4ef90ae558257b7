"""The state as other programs read it: `numbertaker run`, the broker with the settings we write, and `mosquitto_sub`."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.cli.wires import PASSWORD_FILE
from bridge.published import bridge_is, things
from bridge.wire.encode import encode
from bridge.wire.lines import Hello, Report, State

from ..trials.mortal_broker import HOST, MortalBroker
from ..trials.three_stations import BOARDS, RAILWAY, Bridge, make_folder, ours
from ..waiting import free_port, wait_for

pytestmark = pytest.mark.wires

ROOT = f"numbertaker/{RAILWAY}"


class Reader:
    """`mosquitto_sub` as somebody else calls it. `has` is what it has printed by now, the last of each topic."""

    def __init__(self, program: str, port: int, password: str) -> None:
        login = ["-h", HOST, "-p", str(port), "-u", "numbertaker", "-P", password]
        self._process = subprocess.Popen(
            [program, *login, "-q", "1", "-t", f"{ROOT}/state/#", "-F", "%t %p"], stdout=subprocess.PIPE, text=True
        )
        assert self._process.stdout is not None
        self._printed = self._process.stdout
        self.has: dict[str, Any] = {}

    def read_until(self, is_so: Callable[[dict[str, Any]], object]) -> dict[str, Any]:
        """What it has once it is so; the clock left out, and what was cleared."""
        while not is_so(self.has):
            topic, _, payload = self._printed.readline().rstrip("\n").partition(" ")
            suffix = topic.removeprefix(f"{ROOT}/state/")
            if not payload:
                self.has.pop(suffix, None)
            elif suffix != "clock":
                self.has[suffix] = json.loads(payload)
        return self.has

    def stop(self) -> None:
        self._process.terminate()
        self._process.communicate()


class Layout:
    """A broker, a bridge that can be killed, boards, and readers."""

    def __init__(self, home: Path, mosquitto: str, mosquitto_sub: str) -> None:
        self.port = free_port()
        folder = home / "railway"
        make_folder(folder, self.port)
        (user, password), settings = ours(folder, self.port)
        self._password = (folder / PASSWORD_FILE).read_text(encoding="utf-8").strip()
        self._sub = mosquitto_sub
        self.broker = MortalBroker(mosquitto, settings, self.port)
        self.broker.start()
        self.bridge = Bridge(folder, home / "evening.store")
        self.boards = self._client(user, password)
        self.readers: list[Reader] = []

    def _client(self, user: str, password: str) -> Client:
        client = Client(CallbackAPIVersion.VERSION2)
        client.username_pw_set(user, password)
        client.connect(HOST, self.port)
        client.loop_start()
        return client

    def say(self, *lines: Any) -> None:
        for line in lines:
            self.boards.publish(f"{ROOT}/boards/{line.board}/out", encode(line), qos=1).wait_for_publish(5)

    def leave_behind(self, suffix: str) -> None:
        """Something that nothing stands for."""
        client = self._client("numbertaker", self._password)
        client.publish(f"{ROOT}/state/{suffix}", '{"id": "ghost"}', qos=1, retain=True).wait_for_publish(5)
        client.disconnect()
        client.loop_stop()

    def reader(self) -> Reader:
        self.readers.append(Reader(self._sub, self.port, self._password))
        return self.readers[-1]

    def shown(self) -> dict[str, Any]:
        """What the page shows, thing by thing."""
        with urlopen(f"{self.bridge.url}api/snapshot", timeout=10) as answer:
            return {**things(json.load(answer)["snapshot"]), "bridge": bridge_is("here")}

    def close(self) -> None:
        for reader in self.readers:
            reader.stop()
        self.boards.disconnect()
        self.boards.loop_stop()
        self.bridge.end()
        self.broker.kill()


@pytest.fixture
def layout(tmp_path: Path, need: Callable[[str], str]) -> Iterator[Layout]:
    made = Layout(tmp_path, need("mosquitto"), need("mosquitto_sub"))
    yield made
    made.close()


def test_what_the_page_shows_can_be_subscribed_to(layout: Layout) -> None:
    layout.bridge.start()
    layout.bridge.tell("begin 19:00")
    first = layout.reader()
    first.read_until(lambda has: has.get("session", {}).get("state") == "running" and "bridge" in has)
    layout.say(*(Hello(board, 17, 1_000, 8) for board in BOARDS))
    layout.say(*(State("alder", 17, number, 1_000 + 10 * number, number, "off") for number in range(1, 9)))
    first.read_until(lambda has: has.get("detectors/alder-road3", {}).get("state") == "clear")
    layout.say(Report("alder", 17, 9, 2_000, 3, "on"))
    first.read_until(lambda has: has["roads/alder.road3"]["state"] == "occupied")

    late = layout.reader()
    wait_for(lambda: layout.shown()["roads/alder.road3"]["state"] == "occupied")
    late.read_until(lambda has: has == layout.shown())

    layout.bridge.end()  # SIGKILL
    late.read_until(lambda has: has["bridge"]["state"] == "gone")
    layout.leave_behind("vehicles/ghost")
    layout.bridge.start()
    late.read_until(lambda has: has["bridge"]["state"] == "here")
    assert "vehicles/ghost" not in late.has
    assert late.has["roads/alder.road3"]["state"] == "unknown"  # nothing from before the kill is taken for now
    after = layout.reader()
    after.read_until(lambda has: has == layout.shown())

    layout.bridge.end(is_kind=True)
    after.read_until(lambda has: has["bridge"]["state"] == "stopped")
