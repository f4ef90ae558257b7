"""A real broker examined: what it keeps is found out, what it does not is named with the setting; nothing stays."""

from __future__ import annotations

import signal
import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.links.broker import Broker
from bridge.service.examining import Finding
from bridge.service.examining.broker import broker_findings

pytestmark = pytest.mark.wires

KEEPING = ("allow_anonymous true", "persistence true", "autosave_on_changes true", "autosave_interval 1", "log_type error")


def findings(port: int, restart: str | None = None, **login: str) -> list[Finding]:
    began = time.monotonic()
    found = list(broker_findings(Broker("127.0.0.1", port, **login), "branch", restart))
    assert restart or time.monotonic() - began < 30
    return found


def test_a_broker_as_it_comes_keeps_a_thousand_messages(mosquitto: Callable, level: Callable) -> None:
    broker = mosquitto("allow_anonymous true")
    found = findings(broker.port)
    assert [finding.level for finding in found].count("fault") == 1
    assert level(found, "max_queued_messages") == "fault"
    (said,) = [finding.text for finding in found if "max_queued_messages" in finding.remedy]
    assert "it keeps 1,000 " in said  # mosquitto.conf(5): "max_queued_messages ... Defaults to 1000"
    assert level(found, "lets everybody in") == "advice"
    assert level(found, "comes again after a lost connection") == "good"
    assert level(found, "its last will") == "good"
    assert level(found, "stored (retained)") == "good"


def test_nothing_is_left_on_the_broker_and_a_session_is_not_disturbed(mosquitto: Callable) -> None:
    broker = mosquitto("allow_anonymous true", "max_queued_messages 0", "sys_interval 1")
    heard: list[tuple[str, bytes]] = []
    sys_heard: dict[str, int] = {}
    news = threading.Condition()

    def hear(_client: Client, _data: object, message) -> None:
        with news:
            if message.topic.startswith("$SYS/"):
                sys_heard[message.topic] = int(message.payload)
            elif message.payload and "/probe/" not in message.topic:
                heard.append((message.topic, message.payload))
            news.notify_all()

    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = hear
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    client.subscribe([("numbertaker/branch/#", 1), ("$SYS/broker/clients/#", 0), ("$SYS/broker/retained messages/count", 0)])
    try:
        assert not [finding for finding in findings(broker.port) if finding.level == "fault"]
        with news:  # this client alone; what $SYS itself stores is all that is stored
            assert news.wait_for(lambda: sys_heard.get("$SYS/broker/clients/total") == 1, 20), sys_heard
        stored = Client(CallbackAPIVersion.VERSION2)
        kept: list[str] = []
        there = threading.Event()
        stored.on_message = lambda _c, _d, message: kept.append(message.topic)
        stored.on_subscribe = lambda *_: there.set()
        stored.connect("127.0.0.1", broker.port)
        stored.loop_start()
        stored.subscribe("numbertaker/#", 1)
        assert there.wait(5)
        stored.disconnect()
        stored.loop_stop()
        assert kept == []
        assert heard == []  # on the topics of boards and operators nothing but empty messages
    finally:
        client.disconnect()
        client.loop_stop()


def test_an_access_list_that_hides_boards_without_a_word_and_a_command_that_restarts_nothing(
    mosquitto: Callable, level: Callable, tmp_path: Path
) -> None:
    access = tmp_path / "access"
    access.write_text("topic readwrite numbertaker/branch/probe/#\ntopic write numbertaker/branch/boards/#\n")
    broker = mosquitto("allow_anonymous true", f"acl_file {access}", "max_queued_messages 0")
    found = findings(broker.port, "echo no such unit >&2; exit 5")
    assert level(found, "does not deliver them, without a word") == "fault"
    assert level(found, "does not let us publish to numbertaker/branch/operator") == "fault"
    assert level(found, "ended with 5: no such unit") == "fault"
    assert [finding.level for finding in found].count("fault") == 3


def test_refused_or_not_there_or_silent_it_ends_with_a_remedy(mosquitto: Callable, tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    passwords.write_text("")
    (refused,) = findings(mosquitto("allow_anonymous false", f"password_file {passwords}").port, user="me", password="x")
    assert refused.level == "fault" and "Not authorized" in refused.text and "broker-password" in refused.remedy
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        (said,) = findings(port)
        assert said.level == "fault" and "not reached" in said.text
    (gone,) = findings(port)
    assert gone.level == "fault" and "numbertaker broker" in gone.remedy


@pytest.mark.parametrize(
    ("settings", "kept"), [(KEEPING, 500), (("allow_anonymous true", "persistence false"), 0)], ids=["ours", "none"]
)
def test_what_is_left_after_a_restart(mosquitto: Callable, level: Callable, settings: tuple[str, ...], kept: int) -> None:
    broker = mosquitto(*settings)
    stopping = threading.Event()

    def revive() -> None:
        while not stopping.is_set():
            broker.process.wait()
            if not stopping.is_set():
                broker.start()

    if kept:
        broker.kill()
        with (broker.home / "broker.conf").open("a") as conf:
            conf.write(f"persistence_location {broker.home}/\n")
        broker.start()
    reviver = threading.Thread(target=revive, daemon=True)
    reviver.start()
    try:
        saved = f"until grep -qa restarted{kept - 1} {broker.home}/mosquitto.db; do sleep 0.02; done; " if kept else ""
        found = findings(broker.port, f"{saved}kill -{signal.SIGKILL} $(cat {broker.home}/pid)")
    finally:
        stopping.set()
        broker.kill()
        reviver.join(10)
    assert level(found, f"{kept} are left after") == ("good" if kept else "fault")
