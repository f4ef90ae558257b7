"""What the MQTT link makes of messages, against a real broker: what was not committed comes again, what was does not."""

from __future__ import annotations

import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from bridge.links.link import Arrival
from bridge.links.mqtt import Broker, MqttLink
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, Report
from bridge.wire.records import BoardDown, BoardUp, Opened, Rejected, Said

from .brokers import OUT, REPORTS, ROOT, BoardClient, commit_all
from .live import lines_of

pytestmark = pytest.mark.wires

# A host that commits two messages and no more. What it publishes behind the last goes the same way as its acknowledgements,
# so that any under way has got through once that is heard.
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
                if record.line.seq == 11:
                    link.publish("says/behind", "{}")

    link = MqttLink(time.monotonic, "branch", Broker("127.0.0.1", int(sys.argv[1])))
    link.start(inbox)
    threading.Event().wait(30)
"""


def test_what_was_not_committed_comes_again_after_a_kill(broker, client_of, link_on, inbox) -> None:
    command = [sys.executable, "-c", textwrap.dedent(KILLED_HOST), str(broker.port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2], text=True) as host:
        assert host.stdout is not None
        assert host.stdout.readline() == "opened\n"
        board = client_of(broker)
        board.listen(f"{ROOT}/says/behind")
        for report in (*REPORTS, Report("alder", 17, 11, 1011, 3, "on")):
            board.publish(OUT, encode(report))
        board.wait_heard(1)
        host.kill()
    link_on(broker)
    inbox.wait(lambda: {line.seq for line in lines_of(inbox)} >= set(range(3, 11)))


def test_what_was_committed_does_not_come_again(broker, client_of, link_on, inbox) -> None:
    link = link_on(broker)
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
    link_on(broker, into=again)
    again.wait(lambda: len(lines_of(again)) == 5)
    assert [line.seq for line in lines_of(again)] == [6, 7, 8, 9, 10]


def test_a_stored_report_is_refused_and_a_fresh_one_taken(broker, client_of, link_on, inbox) -> None:
    board = client_of(broker)
    board.publish(OUT, encode(REPORTS[0]), retain=True)
    board.publish(f"{ROOT}/operator", "begin 19:00", retain=True)
    link_on(broker)
    inbox.wait(lambda: len(inbox.of(Rejected)) == 2)
    assert {record.reason for record in inbox.of(Rejected)} == {"retained"}
    assert any(b"boards/alder/out" in record.raw for record in inbox.of(Rejected))
    board.publish(OUT, encode(REPORTS[1]))
    board.publish(f"{ROOT}/operator", "go-on")
    inbox.wait(lambda: inbox.of(Said))
    assert lines_of(inbox) == [REPORTS[1]]
    assert [said.words for said in inbox.of(Said)] == ["go-on"]


def test_a_board_s_last_will_says_down(broker, client_of, link_on, inbox) -> None:
    link_on(broker)
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


def test_lines_go_to_boards_that_are_known_here(broker, client_of, link_on, inbox) -> None:
    board = client_of(broker)
    board.listen(f"{ROOT}/boards/+/in")
    link = link_on(broker, boards=["birch"])
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


def test_what_is_said_is_published(broker, client_of, link_on, inbox) -> None:
    link = link_on(broker)
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


def test_a_host_that_commits_nothing_for_long_still_hears(new_broker, need, link_on, inbox) -> None:
    # ten boards in half an hour; the usual broker stops at 20 unacknowledged messages, unless the client asks for more
    broker = new_broker("allow_anonymous true", "persistence false", "max_queued_messages 0")
    broker.start()
    link_on(broker)
    inbox.wait(lambda: inbox.of(Opened))
    lines = b"".join(encode(Report("alder", 17, seq, seq, 3, "on")) for seq in range(1, 10_001))
    publish = [need("mosquitto_pub"), "-p", str(broker.port), "-q", "1", "-t", OUT, "-l"]
    subprocess.run(publish, input=lines, check=True, timeout=60)
    inbox.wait(lambda: len(inbox.arrivals) == 10_001, 30)
    assert [line.seq for line in lines_of(inbox)] == list(range(1, 10_001))


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
