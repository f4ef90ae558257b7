"""`numbertaker run`: real wires, a page, a clean stop, going on behind it, and the same register afterwards."""

from __future__ import annotations

import argparse
import json
import os
import re
import signal
import socket
import subprocess
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.request import Request, urlopen

import pytest
from paho.mqtt import client as mqtt

from bridge.cli import main
from bridge.cli.addresses import address, pages
from bridge.cli.wires import Wishes, broker, links
from bridge.folder import load
from bridge.journal import Reader
from bridge.links.mqtt import MqttLink
from bridge.links.serial import SerialLink
from bridge.wire.encode import encode
from bridge.wire.lines import BoardLine, Hello, Report, State
from bridge.wire.records import HostStarted, HostStopped, Received

from ..waiting import free_port, wait_for
from .conftest import COMMAND


class Board:
    """A board at the end of a pseudo-terminal."""

    def __init__(self) -> None:
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.path = os.ttyname(slave)

    def say(self, *lines: BoardLine) -> None:
        os.write(self.master, b"".join(encode(line) for line in lines))


class Running:
    """The command, running; what it prints is kept."""

    def __init__(self, *words: str) -> None:
        self.child = subprocess.Popen([*COMMAND, "run", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert self.child.stdout is not None
        self.greeting = [self.child.stdout.readline() for _ in range(3)]
        found = re.search(r"http://\S+", self.greeting[1])
        assert found, (self.greeting, self.child.stderr.read() if self.child.stderr else "")
        self.url = found[0]

    def snapshot(self) -> dict:
        with urlopen(f"{self.url}api/snapshot", timeout=10) as answer:
            return json.load(answer)

    def tell(self, words: str) -> dict:
        body = json.dumps({"words": words, "who": "ann"}).encode()
        with urlopen(Request(f"{self.url}api/tell", body, {"content-type": "application/json"}), timeout=10) as answer:
            return json.load(answer)

    def wait(self, is_so: Callable[[dict], object]) -> dict:
        return wait_for(lambda: shown if is_so(shown := self.snapshot()) else {})

    def stop(self, number: int = signal.SIGTERM) -> str:
        began = time.monotonic()
        self.child.send_signal(number)
        _, err = self.child.communicate(timeout=10)
        assert time.monotonic() - began < 2.0
        assert self.child.returncode == 0, err
        return err


@pytest.fixture
def start(folder: Path, tmp_path: Path) -> Iterator[Callable[..., Running]]:
    running: list[Running] = []

    def run(*words: str, where: Path = folder) -> Running:
        running.append(Running(str(where), "--listen", "127.0.0.1:0", "--store", str(tmp_path / "oxlip.store"), *words))
        return running[-1]

    yield run
    for one in running:
        one.child.kill()
        one.child.communicate()


@pytest.mark.wires
def test_an_evening_with_a_stop_in_it(start: Callable[..., Running], folder: Path, tmp_path: Path, capsys) -> None:
    board, store = Board(), tmp_path / "oxlip.store"
    first = start("--no-serial", "--port", board.path)
    assert "session 1" in first.greeting[0]
    assert str(store) in first.greeting[0]
    first.wait(lambda shown: journal(shown) >= 2)  # started, and the port opened: what was said before is lost
    board.say(Hello("thistle", 4, 100, 8), State("thistle", 4, 1, 110, 1, "off"))
    first.wait(lambda shown: journal(shown) >= 4)
    assert first.tell("begin 19:00")["accepted"]
    board.say(Report("thistle", 4, 2, 300, 1, "on"))
    first.wait(lambda shown: journal(shown) >= 6)
    first.stop()
    second = start("--no-serial", "--port", board.path)
    assert "goes on with session 1" in second.greeting[0]
    assert second.wait(lambda shown: shown)["snapshot"]["session"]["state"] == "running"
    assert second.tell("abracadabra")["accepted"] is False
    assert second.tell("end")["accepted"]
    second.stop(signal.SIGINT)
    with Reader.open(store) as reader:
        records = [row.record for row in reader.records(1)]
    assert sum(isinstance(record, HostStarted) for record in records) == 2
    assert sum(isinstance(record, HostStopped) for record in records) == 1
    assert [record.line for record in records if isinstance(record, Received)][-1] == Report("thistle", 4, 2, 300, 1, "on")
    assert main(["capture", str(store)]) == 0
    text = capsys.readouterr().out
    (tmp_path / "evening.capture").write_text(text, encoding="utf-8")
    assert main(["replay", str(folder), str(tmp_path / "evening.capture"), "--json"]) == 0
    said = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [row["state"] for row in said if row["says"] == "session"] == ["started", "ended"]


def journal(shown: dict) -> int:
    return shown["snapshot"]["session"]["journal"]


@pytest.mark.wires
def test_by_a_broker_what_is_said_goes_out_and_what_comes_in_counts(
    start: Callable[..., Running], need: Callable[[str], str], tmp_path: Path, capsys, folder: Path
) -> None:
    port, store = free_port(), tmp_path / "oxlip.store"
    conf = tmp_path / "broker.conf"
    conf.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\n" + ("user root\n" if os.getuid() == 0 else ""))
    with subprocess.Popen(
        [need("mosquitto"), "-c", str(conf)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as broker:
        try:
            said: list[dict] = []
            is_over = threading.Event()

            def hear(client, data, message) -> None:
                said.append(json.loads(message.payload))
                assert message.topic == f"numbertaker/oxlip/says/{said[-1]['says']}"
                if said[-1].get("state") == "ended":
                    is_over.set()

            client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
            client.on_message = hear
            subscribed = threading.Event()
            client.on_connect = lambda *given: client.subscribe("numbertaker/oxlip/says/#", 1)
            client.on_subscribe = lambda *given: subscribed.set()
            client.connect_async("127.0.0.1", port)
            client.loop_start()
            assert subscribed.wait(15)
            running = start("--no-serial", "--broker", f"127.0.0.1:{port}")
            running.wait(lambda shown: journal(shown) >= 2)  # started, opened
            hello = b"".join(encode(line) for line in (Hello("oxlip", 4, 100, 8), State("oxlip", 4, 1, 110, 1, "off")))
            client.publish("numbertaker/oxlip/boards/oxlip/out", hello, 1)
            running.wait(lambda shown: journal(shown) >= 4)
            client.publish("numbertaker/oxlip/operator", "begin 19:00", 1)
            running.wait(lambda shown: shown["snapshot"]["session"]["state"] == "running")
            client.publish("numbertaker/oxlip/operator", "end", 1)
            assert is_over.wait(15)
            running.stop()
            client.loop_stop()
        finally:
            broker.terminate()
    main(["capture", str(store)])
    (tmp_path / "evening.capture").write_text(capsys.readouterr().out, encoding="utf-8")
    main(["replay", str(folder), str(tmp_path / "evening.capture"), "--json"])
    assert [json.loads(line) for line in capsys.readouterr().out.splitlines()] == said


@pytest.mark.wires
def test_a_second_one_on_the_same_store_is_refused(
    start: Callable[..., Running], folder: Path, tmp_path: Path, capsys
) -> None:
    running = start("--no-serial")
    assert (
        main(["run", str(folder), "--store", str(tmp_path / "oxlip.store"), "--listen", "127.0.0.1:0", "--no-serial"]) == 1
    )
    assert "Another Numbertaker is writing" in capsys.readouterr().err
    running.stop()


def test_an_address_that_is_taken_is_told(folder: Path, capsys) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert main(["run", str(folder), "--listen", f"127.0.0.1:{port}", "--no-serial"]) == 1
    err = capsys.readouterr().err
    assert f"127.0.0.1:{port}" in err
    assert "--listen" in err
    assert (folder / "oxlip.store").exists()  # where the journal is kept unless said


def test_a_folder_with_faults_is_refused(folder: Path, capsys) -> None:
    (folder / "stock.csv").write_text("vehicle,kind\nw1,balloon\n", encoding="utf-8")
    assert main(["run", str(folder)]) == 1
    assert "stock.csv:2:" in capsys.readouterr().err
    assert not (folder / "oxlip.store").exists()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("127.0.0.1:80", ("127.0.0.1", 80)),
        ("8080", ("h", 8080)),
        (":8080", ("h", 8080)),
        ("layout.local", ("layout.local", 1)),
        ("[::1]:80", ("::1", 80)),
        ("::1", ("::1", 1)),
    ],
)
def test_addresses_as_people_write_them(text: str, expected: tuple[str, int]) -> None:
    assert address("h", 1)(text) == expected


@pytest.mark.parametrize("text", ["", "host:door", "host:65536", ":"])
def test_addresses_that_are_none(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError):
        address("h", 1)(text)


def test_pages_can_be_typed_into_a_phone() -> None:
    assert pages("192.168.1.5", 8610) == ("http://192.168.1.5:8610/",)
    assert pages("::1", 8610) == ("http://[::1]:8610/",)
    assert pages("0.0.0.0", 8610)[-1] == "http://127.0.0.1:8610/"
    assert all("0.0.0.0" not in page for page in pages("0.0.0.0", 8610))


def test_the_wires_are_those_the_railway_needs(folder: Path) -> None:
    def made(*changes: tuple[str, str], **wishes) -> list[type]:
        path = folder / "railway.toml"
        text = path.read_text(encoding="utf-8")
        for old, new in changes:
            text = text.replace(old, new)
        path.write_text(text, encoding="utf-8")
        return [type(link) for link in links(load(folder), lambda: 0.0, Wishes(folder, **wishes))]

    assert made() == [SerialLink, MqttLink]
    assert made(no_serial=True) == [MqttLink]
    assert made(no_serial=True, ports=("/dev/pts/9",)) == [SerialLink, MqttLink]
    assert made(('link = "mqtt"', 'link = "serial"')) == [SerialLink]
    assert made(broker=("127.0.0.1", 1883)) == [SerialLink, MqttLink]
    assert made(('link = "serial"', 'link = "mqtt"')) == [MqttLink]


def test_the_broker_is_that_of_the_command_line_else_of_the_folder(folder: Path) -> None:
    here = Wishes(folder)
    assert (broker(load(folder), here).host, broker(load(folder), here).port) == ("127.0.0.1", 1883)
    with (folder / "railway.toml").open("a", encoding="utf-8") as file:
        file.write('\n[broker]\nhost = "layout.local"\nport = 8883\ntls = true\nuser = "numbertaker"\n')
    (folder / "broker-password").write_text("not so secret\n", encoding="utf-8")
    told = broker(load(folder), here)
    assert (told.host, told.port, told.tls, told.user, told.password) == (
        "layout.local",
        8883,
        True,
        "numbertaker",
        "not so secret",
    )
    elsewhere = broker(load(folder), Wishes(folder, ("10.0.0.2", 1884)))
    assert (elsewhere.host, elsewhere.port, elsewhere.user) == ("10.0.0.2", 1884, "numbertaker")
