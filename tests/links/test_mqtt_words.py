"""Operators' words over a real broker have no number: a kill between commit and acknowledgement counts them once."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bridge.journal import Journal, Reader
from bridge.links.link import ANEW, Delivery
from bridge.wire.records import Opened, Said

from ..waiting import wait_for
from .brokers import ROOT

pytestmark = pytest.mark.wires

CHILD = Path(__file__).with_name("dying_service.py")
TELL = "numbertaker/oxlip/operator"
Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "oxlip.store"


@pytest.fixture
def start(store: Path) -> Iterator[Start]:
    """`start(broker, dies_at)`: a service that is on the broker."""
    made: list[subprocess.Popen[str]] = []

    def begin(broker, dies_at: int = 0) -> subprocess.Popen[str]:
        command = [sys.executable, str(CHILD), str(store), str(broker.port), str(dies_at)]
        made.append(subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True))
        assert made[-1].stdout is not None
        assert made[-1].stdout.readline() == "open\n"
        return made[-1]

    yield begin
    for child in made:
        child.kill()
        child.wait(10)


def stop(child: subprocess.Popen[str]) -> None:
    assert child.stdin is not None
    child.stdin.close()
    assert child.wait(20) == 0


def words_in(store: Path) -> list[str]:
    if not store.exists():
        return []
    with Reader.open(store) as reader:
        return [row.record.words for n in reader.sessions() for row in reader.records(n.id) if isinstance(row.record, Said)]


def beginnings_in(store: Path) -> int:
    """How often a broker was noted that counts anew."""
    with closing(sqlite3.connect(f"{store.as_uri()}?mode=ro", uri=True)) as reader:
        return reader.execute("SELECT count(*) FROM deliveries WHERE packet = ?", (ANEW,)).fetchone()[0]  # type: ignore[no-any-return]


def test_words_count_once_however_often_the_service_dies_before_acknowledging(broker, client_of, start, store) -> None:
    operator = client_of(broker)
    child = start(broker, dies_at=2)
    operator.publish(TELL, "begin 19:00")
    operator.publish(TELL, "mute thistle-loop")
    assert child.wait(20) == -9
    assert start(broker, dies_at=1).wait(20) == -9  # what was committed has come again, and is not acknowledged again
    child = start(broker)
    operator.publish(TELL, "unmute thistle-loop")
    wait_for(lambda: "unmute thistle-loop" in words_in(store))
    stop(child)
    assert words_in(store) == ["begin 19:00", "mute thistle-loop", "unmute thistle-loop"]


def test_the_same_words_told_twice_count_twice(broker, client_of, start, store) -> None:
    operator = client_of(broker)
    child = start(broker, dies_at=3)
    for words in ("begin 19:00", "mute thistle-loop", "mute thistle-loop"):
        operator.publish(TELL, words)
    assert child.wait(20) == -9
    operator.publish(TELL, "mute thistle-loop")  # while none is there
    child = start(broker)
    wait_for(lambda: len(words_in(store)) >= 4)
    stop(child)
    assert words_in(store) == ["begin 19:00", *3 * ["mute thistle-loop"]]


def test_what_the_broker_could_not_be_told_over_its_own_death_counts_once(new_broker, client_of, start, store) -> None:
    """Mosquitto keeps its packet identifiers: what it had sent comes again under the same ones (its autosave is 1 s)."""
    broker = new_broker()
    broker.start()
    child = start(broker, dies_at=1)
    client_of(broker).publish(TELL, "begin 19:00")
    assert child.wait(20) == -9
    broker.stop()  # which saves; a kill does so only if a second has passed
    broker.start()
    child = start(broker)
    client_of(broker).publish(TELL, "mute thistle-loop")
    wait_for(lambda: "mute thistle-loop" in words_in(store))
    stop(child)
    assert words_in(store) == ["begin 19:00", "mute thistle-loop"]


def test_a_broker_that_has_forgotten_counts_anew(new_broker, client_of, start, store) -> None:
    """The identifiers of a new session are the old ones once more: its words are news all the same, also after a kill."""
    broker = new_broker("allow_anonymous true", "persistence false")
    broker.start()
    child = start(broker)
    client_of(broker).publish(TELL, "begin 19:00")
    wait_for(lambda: len(words_in(store)) == 1)
    stop(child)
    broker.kill()
    broker.start()
    noted = beginnings_in(store)
    child = start(broker)
    wait_for(lambda: beginnings_in(store) > noted)  # killed before that, nobody can know any more
    child.kill()
    child.wait(10)
    client_of(broker).publish(TELL, "begin 19:00")
    child = start(broker)
    wait_for(lambda: len(words_in(store)) == 2)
    stop(child)
    assert words_in(store) == 2 * ["begin 19:00"]
    journal = Journal(store, "oxlip")
    found = Counter(row.packet for row in journal.reader.deliveries(1_000))
    journal.close()
    assert found == Counter({1: 1})  # of what the broker counts now


def test_a_link_says_how_a_message_came(broker, client_of, link_on, inbox) -> None:
    link = link_on(broker)
    inbox.wait(lambda: inbox.of(Opened))
    assert inbox.arrivals[0].delivery == Delivery(ANEW)
    client_of(broker).publish(f"{ROOT}/operator", "begin 19:00")
    inbox.wait(lambda: inbox.of(Said))
    first = inbox.arrivals[-1].delivery
    assert first is not None and not first.is_again
    link.stop()
    again = type(inbox)()
    link_on(broker, into=again)
    again.wait(lambda: again.of(Said) and again.of(Opened))
    assert [arrival.delivery for arrival in again.arrivals if arrival.delivery is not None] == [
        Delivery(first.packet, is_again=True)
    ]
