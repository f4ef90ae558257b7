"""The MQTT link against a real broker, which may be absent, come and go, forget, or refuse: all of it is put into words."""

from __future__ import annotations

import socket
import subprocess
import time
from itertools import pairwise

import pytest

from bridge.links import mqtt
from bridge.links.mqtt import Broker, MqttLink
from bridge.wire.encode import encode
from bridge.wire.lines import Ask
from bridge.wire.records import Closed, Opened

from ..waiting import wait_for
from .brokers import OUT, REPORTS, ROOT, FastClock
from .live import lines_of

pytestmark = pytest.mark.wires


def test_a_broker_that_is_killed_and_started_again(new_broker, client_of, link_on, inbox) -> None:
    broker = new_broker("allow_anonymous true", "autosave_on_changes true")
    broker.start()
    link = link_on(broker)
    inbox.wait(lambda: inbox.of(Opened))
    client_of(broker).publish(OUT, encode(REPORTS[0]))
    inbox.wait(lambda: lines_of(inbox))
    old = inbox.arrivals[-1]
    broker.kill()
    inbox.wait(lambda: inbox.of(Closed))
    assert "was lost" in link.troubles()[0] or "not reached" in link.troubles()[0]
    assert not link.send("alder", Ask())
    broker.start()
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    client_of(broker).publish(OUT, encode(REPORTS[1]))
    inbox.wait(lambda: REPORTS[1] in lines_of(inbox))
    assert link.troubles() == ()
    assert old.done is not None
    old.done()  # of a connection that is gone: must do nothing


def test_a_broker_that_has_forgotten_everything_is_named_for_a_while(new_broker, client_of, link_on, inbox) -> None:
    broker, clock = new_broker("allow_anonymous true", "persistence false"), FastClock()
    broker.start()
    link = link_on(broker, clock=clock)
    inbox.wait(lambda: inbox.of(Opened))
    assert link.troubles() == ()  # a first session is none that was forgotten
    broker.kill()
    inbox.wait(lambda: inbox.of(Closed))
    broker.start()
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    (said,) = link.troubles()
    assert "came back without" in said and "numbertaker broker" in said
    client_of(broker).publish(OUT, encode(REPORTS[0]))  # it is subscribed again all the same
    inbox.wait(lambda: lines_of(inbox))
    clock.ahead_s = 61.0
    assert link.troubles() == ()


@pytest.mark.parametrize("silence", ["no board is on", "the access list hides every board"])
def test_a_broker_through_which_no_board_is_heard(new_broker, tmp_path, client_of, link_on, inbox, silence) -> None:
    access = tmp_path / "access"
    access.write_text("topic readwrite other/#\n" if "access" in silence else f"topic readwrite {ROOT}/#\n")
    broker, clock = new_broker("allow_anonymous true", f"acl_file {access}"), FastClock()
    broker.start()
    link = link_on(broker, boards=["alder"], clock=clock)
    inbox.wait(lambda: inbox.of(Opened))  # Mosquitto 2.0.11 answers the subscription with success all the same
    assert link.troubles() == ()
    clock.ahead_s = 16.0
    (said,) = link.troubles()
    assert "No board has been heard" in said and f"{ROOT}/boards/" in said
    client_of(broker).publish(OUT, encode(REPORTS[0]))
    if "access" in silence:
        assert link.troubles() == (said,)
    else:
        inbox.wait(lambda: lines_of(inbox))
        assert link.troubles() == ()


def test_it_starts_without_a_broker(new_broker, client_of, link_on, inbox) -> None:
    broker = new_broker()
    link = link_on(broker)
    wait_for(lambda: any("is not reached" in trouble for trouble in link.troubles()))
    assert inbox.arrivals == []
    assert link.publish("says/arrived", "{}", retain=True)  # waits for the broker
    broker.start()
    inbox.wait(lambda: inbox.of(Opened))
    assert link.troubles() == ()
    listener = client_of(broker)
    listener.listen(f"{ROOT}/says/arrived")
    assert listener.wait_heard(1)[0][1] == b"{}"


@pytest.mark.slow
def test_it_is_tried_again_for_ever_and_no_further_apart_than_that(inbox, monkeypatch: pytest.MonkeyPatch) -> None:
    assert mqtt.LONGEST_RETRY_S == 5
    monkeypatch.setattr(mqtt, "LONGEST_RETRY_S", 2)
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", server.getsockname()[1]))
        link.start(inbox)
        tries = []
        server.settimeout(10)
        for _ in range(5):  # 1, and then 2 s apart, beside what a busy machine adds
            server.accept()[0].close()
            tries.append(time.monotonic())
        link.stop()
    waits = [later - earlier for earlier, later in pairwise(tries)]
    assert waits[-1] > 1.5 and max(waits) < 3.9  # 4 s would come next, and then 8


def test_a_wrong_password_is_put_into_words(new_broker, tmp_path, need, link_on, inbox) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run([need("mosquitto_passwd"), "-c", "-b", str(passwords), "numbertaker", "right"], check=True)
    broker = new_broker("allow_anonymous false", f"password_file {passwords}")
    broker.start()
    link = link_on(broker, user="numbertaker", password="wrong")
    wait_for(lambda: any("broker-password" in trouble for trouble in link.troubles()))
    assert inbox.arrivals == []
    link.stop()
    link_on(broker, user="numbertaker", password="right")
    inbox.wait(lambda: inbox.of(Opened))


def test_a_broker_that_does_not_let_the_host_read(link_on, inbox) -> None:
    # Mosquitto lets everybody subscribe and then delivers nothing, so a few bytes of MQTT 5 stand for a stricter broker.
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", server.getsockname()[1]))
        link.start(inbox)
        client, _ = server.accept()
        with client:
            assert client.recv(1000)[0] == 0x10  # CONNECT
            client.sendall(bytes([0x20, 3, 0, 0, 0]))  # CONNACK: success
            subscribe = client.recv(1000)
            assert subscribe[0] == 0x82  # SUBSCRIBE; behind its length the number of the packet
            client.sendall(bytes([0x90, 6, *subscribe[2:4], 0, 0x87, 1, 1]))  # SUBACK: the first filter is not authorized
            wait_for(lambda: any("does not let numbertaker read" in trouble for trouble in link.troubles()))
        assert "boards/+/out" in link.troubles()[0] and "operator" not in link.troubles()[0]
        assert inbox.of(Opened) == []
        link.stop()


def test_two_hosts_of_one_railway_are_named(broker, link_on, inbox) -> None:
    first = link_on(broker)
    inbox.wait(lambda: inbox.of(Opened))
    second = type(inbox)()
    link_on(broker, into=second)
    wait_for(lambda: any("Another numbertaker" in trouble for trouble in first.troubles()))


OPENSSL = "openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=127.0.0.1 -addext subjectAltName=IP:127.0.0.1"


def test_encrypted_and_the_broker_proved(new_broker, tmp_path, need, link_on, inbox) -> None:
    need("openssl")
    key, cert, other = tmp_path / "key.pem", tmp_path / "cert.pem", tmp_path / "other.pem"
    for made in (other, cert):
        subprocess.run(
            [*OPENSSL.split(), "-keyout", str(key), "-out", str(made)],
            check=True,
            capture_output=True,
        )
    broker = new_broker("allow_anonymous true", f"certfile {cert}", f"keyfile {key}")
    broker.start()
    wrong = link_on(broker, tls=True, ca_file=str(other))
    wait_for(lambda: any("certificate" in trouble.lower() for trouble in wrong.troubles()))
    assert inbox.arrivals == []
    wrong.stop()
    link_on(broker, tls=True, ca_file=str(cert))
    inbox.wait(lambda: inbox.of(Opened))


def test_settings_that_cannot_work_are_put_into_words(inbox) -> None:
    for broker in (Broker("my..broker"), Broker("127.0.0.1", tls=True, ca_file="/nowhere/ca.pem")):
        link = MqttLink(time.monotonic, "branch", broker)
        link.start(inbox)
        assert "Correct [broker] in railway.toml" in link.troubles()[0]
        assert not link.publish("says/arrived", "{}")
        link.stop()
