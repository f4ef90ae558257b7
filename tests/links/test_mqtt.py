"""The MQTT link against a real broker: what was not committed comes again, and the broker may come and go."""

from __future__ import annotations

import socket
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from bridge.links.link import Arrival
from bridge.links.mqtt import Broker, MqttLink
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, Report
from bridge.wire.records import BoardDown, BoardUp, Closed, Opened, Received, Rejected, Said

pytestmark = pytest.mark.wires

ROOT = "numbertaker/branch"
OUT = f"{ROOT}/boards/alder/out"
REPORTS = [Report("alder", 17, seq, 1000 + seq, 3, "on") for seq in range(1, 11)]


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


@pytest.fixture
def client_of() -> Iterator[Callable[..., BoardClient]]:
    clients: list[BoardClient] = []

    def make(broker, *will: str, **login: str) -> BoardClient:
        clients.append(BoardClient(broker.port, will if will else None, **login))
        return clients[-1]

    yield make
    for client in clients:
        client.leave()


@pytest.fixture
def link_to(inbox) -> Iterator[Callable[..., MqttLink]]:
    """`link_to(broker)`: a started link, by default into the inbox that can be waited on."""
    links: list[MqttLink] = []

    def make(broker, into=inbox, boards=(), clock=time.monotonic, **more) -> MqttLink:
        links.append(MqttLink(clock, "branch", Broker("127.0.0.1", broker.port, **more), boards))
        links[-1].start(into)
        return links[-1]

    yield make
    for link in links:
        link.stop()


def lines_of(inbox) -> list:
    return [record.line for record in inbox.of(Received)]


def wait_for(is_so: Callable[[], object], seconds: float = 10.0) -> None:
    """For what no inbox tells: trouble that is put into words."""
    until = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < until
        time.sleep(0.01)


def commit_all(inbox) -> None:
    for arrival in list(inbox.arrivals):
        if arrival.done is not None:
            arrival.done()


# A host that commits two messages and no more.
KILLED_HOST = """
    import sys, threading, time
    from bridge.links.mqtt import Broker, MqttLink
    from bridge.wire.records import Opened, Received

    def inbox(arrival):
        for record in arrival.records:
            if isinstance(record, Opened):
                print("opened", flush=True)
            if isinstance(record, Received):
                if record.line.seq <= 2:
                    arrival.done()
                print(record.line.seq, flush=True)

    MqttLink(time.monotonic, "branch", Broker("127.0.0.1", int(sys.argv[1]))).start(inbox)
    threading.Event().wait(30)
"""


def test_what_was_not_committed_comes_again_after_a_kill(broker, client_of, link_to, inbox) -> None:
    command = [sys.executable, "-c", textwrap.dedent(KILLED_HOST), str(broker.port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2], text=True) as host:
        assert host.stdout is not None
        assert host.stdout.readline() == "opened\n"
        board = client_of(broker)
        for report in REPORTS:
            board.publish(OUT, encode(report))
        assert [int(host.stdout.readline()) for _ in REPORTS] == list(range(1, 11))
        time.sleep(0.5)  # for acknowledgements that should not be under way to get through
        host.kill()
    link_to(broker)
    inbox.wait(lambda: {line.seq for line in lines_of(inbox)} >= set(range(3, 11)))


def test_what_was_committed_does_not_come_again(broker, client_of, link_to, inbox) -> None:
    link = link_to(broker)
    inbox.wait(lambda: inbox.of(Opened))
    board = client_of(broker)
    for report in REPORTS[:5]:
        board.publish(OUT, encode(report))
    inbox.wait(lambda: len(lines_of(inbox)) == 5)
    commit_all(inbox)
    link.stop()
    for report in REPORTS[5:]:  # while no host is there
        board.publish(OUT, encode(report))
    again = type(inbox)()
    link_to(broker, into=again)
    again.wait(lambda: len(lines_of(again)) == 5)
    assert [line.seq for line in lines_of(again)] == [6, 7, 8, 9, 10]


def test_a_broker_that_is_killed_and_started_again(new_broker, client_of, link_to, inbox) -> None:
    broker = new_broker("allow_anonymous true", "autosave_on_changes true")
    broker.start()
    link = link_to(broker)
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


class FastClock:
    """A clock that can be put forward."""

    def __init__(self) -> None:
        self.ahead_s = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead_s


def test_a_broker_that_has_forgotten_everything_is_named_for_a_while(new_broker, client_of, link_to, inbox) -> None:
    broker, clock = new_broker("allow_anonymous true", "persistence false"), FastClock()
    broker.start()
    link = link_to(broker, clock=clock)
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
def test_a_broker_through_which_no_board_is_heard(new_broker, tmp_path, client_of, link_to, inbox, silence) -> None:
    access = tmp_path / "access"
    access.write_text("topic readwrite other/#\n" if "access" in silence else f"topic readwrite {ROOT}/#\n")
    broker, clock = new_broker("allow_anonymous true", f"acl_file {access}"), FastClock()
    broker.start()
    link = link_to(broker, boards=["alder"], clock=clock)
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


def test_it_starts_without_a_broker(new_broker, client_of, link_to, inbox) -> None:
    broker = new_broker()
    link = link_to(broker)
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
def test_it_is_tried_again_for_ever_and_every_5_s_at_most(inbox) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", server.getsockname()[1]))
        link.start(inbox)
        tries = []
        server.settimeout(10)
        for _ in range(6):  # 1, 2, 4, and then 5 s apart, beside what a busy machine adds
            server.accept()[0].close()
            tries.append(time.monotonic())
        link.stop()
    waits = [later - earlier for earlier, later in pairwise(tries)]
    assert waits[-1] > 3 and max(waits) < 7


def test_a_stored_report_is_refused_and_a_fresh_one_taken(broker, client_of, link_to, inbox) -> None:
    board = client_of(broker)
    board.publish(OUT, encode(REPORTS[0]), retain=True)
    board.publish(f"{ROOT}/operator", "begin 19:00", retain=True)
    link_to(broker)
    inbox.wait(lambda: len(inbox.of(Rejected)) == 2)
    assert {record.reason for record in inbox.of(Rejected)} == {"retained"}
    assert any(b"boards/alder/out" in record.raw for record in inbox.of(Rejected))
    board.publish(OUT, encode(REPORTS[1]))
    board.publish(f"{ROOT}/operator", "go-on")
    inbox.wait(lambda: inbox.of(Said))
    assert lines_of(inbox) == [REPORTS[1]]
    assert [said.words for said in inbox.of(Said)] == ["go-on"]


def test_a_board_s_last_will_says_down(broker, client_of, link_to, inbox) -> None:
    link_to(broker)
    inbox.wait(lambda: inbox.of(Opened))
    topic = f"{ROOT}/boards/alder/link"
    board = BoardClient(broker.port, (topic, "down"))
    board.publish(topic, "up", retain=True)
    inbox.wait(lambda: inbox.of(BoardUp))
    board.cut()
    inbox.wait(lambda: inbox.of(BoardDown))
    late = type(inbox)()
    other = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", broker.port))
    other.start(late)  # stored: whoever comes later is told too
    late.wait(lambda: late.of(BoardDown))
    other.stop()


def test_lines_go_to_boards_that_are_known_here(broker, client_of, link_to, inbox) -> None:
    board = client_of(broker)
    board.listen(f"{ROOT}/boards/+/in")
    link = link_to(broker, boards=["birch"])
    inbox.wait(lambda: inbox.of(Opened))
    assert not link.send("alder", Ask())
    assert link.send("birch", Ask())
    board.publish(OUT, encode(Alive("alder", 17, 0, 1)))
    inbox.wait(lambda: lines_of(inbox))
    assert link.send("alder", Again(17, 1, 0))
    assert [heard[:2] for heard in board.wait_heard(2)] == [
        (f"{ROOT}/boards/birch/in", encode(Ask())),
        (f"{ROOT}/boards/alder/in", encode(Again(17, 1, 0))),
    ]


def test_what_is_said_is_published(broker, client_of, link_to, inbox) -> None:
    link = link_to(broker)
    inbox.wait(lambda: inbox.of(Opened))
    listener = client_of(broker)
    listener.listen(f"{ROOT}/says/#")
    assert link.publish("says/arrived", '{"n": 1}')
    assert link.publish("says/whereabouts", '{"n": 2}', retain=True)
    assert [heard[1] for heard in listener.wait_heard(2)] == [b'{"n": 1}', b'{"n": 2}']
    late = client_of(broker)
    late.listen(f"{ROOT}/says/#")
    assert late.wait_heard(1) == [(f"{ROOT}/says/whereabouts", b'{"n": 2}', True)]
    with pytest.raises(ValueError, match="is no topic"):
        link.publish("says/#", "x")


def test_a_host_that_commits_nothing_for_long_still_hears(new_broker, need, link_to, inbox) -> None:
    # ten boards in half an hour; the usual broker stops at 20 unacknowledged messages, unless the client asks for more
    broker = new_broker("allow_anonymous true", "persistence false", "max_queued_messages 0")
    broker.start()
    link_to(broker)
    inbox.wait(lambda: inbox.of(Opened))
    lines = b"".join(encode(Report("alder", 17, seq, seq, 3, "on")) for seq in range(1, 10_001))
    publish = [need("mosquitto_pub"), "-p", str(broker.port), "-q", "1", "-t", OUT, "-l"]
    subprocess.run(publish, input=lines, check=True, timeout=60)
    inbox.wait(lambda: len(inbox.arrivals) == 10_001, 30)
    assert [line.seq for line in lines_of(inbox)] == list(range(1, 10_001))


def test_a_wrong_password_is_put_into_words(new_broker, tmp_path, need, link_to, inbox) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run([need("mosquitto_passwd"), "-c", "-b", str(passwords), "numbertaker", "right"], check=True)
    broker = new_broker("allow_anonymous false", f"password_file {passwords}")
    broker.start()
    link = link_to(broker, user="numbertaker", password="wrong")
    wait_for(lambda: any("broker-password" in trouble for trouble in link.troubles()))
    assert inbox.arrivals == []
    link.stop()
    link_to(broker, user="numbertaker", password="right")
    inbox.wait(lambda: inbox.of(Opened))


def test_a_broker_that_does_not_let_the_host_read(link_to, inbox) -> None:
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


def test_two_hosts_of_one_railway_are_named(broker, link_to, inbox) -> None:
    first = link_to(broker)
    inbox.wait(lambda: inbox.of(Opened))
    second = type(inbox)()
    link_to(broker, into=second)
    wait_for(lambda: any("Another numbertaker" in trouble for trouble in first.troubles()))


OPENSSL = "openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=127.0.0.1 -addext subjectAltName=IP:127.0.0.1"


def test_encrypted_and_the_broker_proved(new_broker, tmp_path, need, link_to, inbox) -> None:
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
    wrong = link_to(broker, tls=True, ca_file=str(other))
    wait_for(lambda: any("certificate" in trouble.lower() for trouble in wrong.troubles()))
    assert inbox.arrivals == []
    wrong.stop()
    link_to(broker, tls=True, ca_file=str(cert))
    inbox.wait(lambda: inbox.of(Opened))


def test_settings_that_cannot_work_are_put_into_words(inbox) -> None:
    for broker in (Broker("my..broker"), Broker("127.0.0.1", tls=True, ca_file="/nowhere/ca.pem")):
        link = MqttLink(time.monotonic, "branch", broker)
        link.start(inbox)
        assert "Correct [broker] in railway.toml" in link.troubles()[0]
        assert not link.publish("says/arrived", "{}")
        link.stop()


def test_nothing_arrives_after_stop(broker, client_of, inbox) -> None:
    arrivals: list[Arrival] = []
    link = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", broker.port))
    link.start(lambda arrival: (arrivals.append(arrival), inbox(arrival)))
    inbox.wait(lambda: inbox.of(Opened))
    link.stop()
    before = len(arrivals)
    client_of(broker).publish(OUT, encode(REPORTS[0]))
    assert len(arrivals) == before
    assert not link.send("alder", Ask())
