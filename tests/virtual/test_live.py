"""Virtual boards on real wires answer a real host, and never run ahead of the clock."""

from __future__ import annotations

import os
import queue
import select
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.links.link import Arrival
from bridge.links.mqtt import Broker, MqttLink
from bridge.links.serial import SerialLink
from bridge.virtual.evening import Evening
from bridge.virtual.live import Live
from bridge.virtual.wires import BrokerBoards, Terminals
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, Hello, Report, State
from bridge.wire.parser import BoardParser
from bridge.wire.records import BoardDown, BoardUp, Received, Record

from ..waiting import free_port, wait_reachable
from .conftest import READER, STANDING, STOCK, evening_of

SPEED = 20.0
LONGEST_S = 20.0


class Running:
    """A live evening on a thread."""

    def __init__(self, evening: Evening, *wires: object) -> None:
        self.words: list[str] = []
        self.over = threading.Event()
        self.live = Live(
            evening,
            wires,  # type: ignore[arg-type]
            lambda: time.monotonic() * SPEED,
            speed=SPEED,
            on_words=self.words.append,
            on_over=self.over.set,
        )
        self._thread = threading.Thread(target=self.live.run, daemon=True)

    def __enter__(self) -> Running:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.live.stop()
        self._thread.join(5)
        assert not self._thread.is_alive()


@pytest.fixture
def railway(line: Callable[..., Railway]) -> Railway:
    return line(READER, STOCK, STANDING)


SCRIPT = "begin 19:00 after 1 s\ncrew e1\n runs to elm.road at 300 mm/s\n"


def until(records: queue.Queue[Record], wanted: Callable[[Record], bool]) -> list[Record]:
    """Records up to the first that is wanted."""
    found: list[Record] = []
    while not found or not wanted(found[-1]):
        found.append(records.get(timeout=LONGEST_S))
    return found


def heard(records: queue.Queue[Record]) -> Callable[[Arrival], None]:
    def hear(arrival: Arrival) -> None:
        for record in arrival.records:
            records.put(record)
        if arrival.done is not None:
            arrival.done()

    return hear


def test_a_board_on_a_terminal_answers_ask_and_again_and_begins_when_asked(railway: Railway) -> None:
    terminals = Terminals(["one"])
    with Running(evening_of(railway, SCRIPT), terminals) as running:
        host = os.open(terminals.paths["one"], os.O_RDWR | os.O_NOCTTY)
        parser = BoardParser()

        def next_lines() -> list[object]:
            assert select.select([host], [], [], LONGEST_S)[0]
            return list(parser.feed(os.read(host, 4096)))

        lines: list[object] = []
        while not any(isinstance(line, Alive) for line in lines):
            lines += next_lines()
        assert running.words == []  # nobody has asked yet
        os.write(host, b"nonsense\n" + encode(Ask()))
        while not any(isinstance(line, State) for line in lines):
            lines += next_lines()
        while not running.over.is_set() or not any(isinstance(line, Report) for line in lines):
            lines += next_lines()
        assert running.words == ["begin 19:00"]
        assert any(isinstance(line, Hello) for line in lines)
        reports = [line for line in lines if isinstance(line, Report)]
        assert {report.value for report in reports} == {f"tag=04AA00000{n}" for n in (1, 2, 3, 4)}
        os.write(host, encode(Again(reports[0].boot, reports[0].seq, reports[0].seq)))
        again: list[object] = []
        while reports[0] not in again:
            again += next_lines()
        os.close(host)


def test_the_serial_link_finds_a_virtual_board(railway: Railway) -> None:
    terminals = Terminals(["one"])
    records: queue.Queue[Record] = queue.Queue()
    link = SerialLink(time.monotonic, list(terminals.paths.values()), list_ports=list)
    with Running(evening_of(railway, SCRIPT), terminals):
        link.start(heard(records))
        try:
            until(records, lambda r: isinstance(r, Received) and isinstance(r.line, Hello))
            until(records, lambda r: isinstance(r, Received) and isinstance(r.line, Report))
        finally:
            link.stop()


def test_it_never_runs_ahead_of_the_clock(railway: Railway) -> None:
    """With a clock that stands still nothing happens that is not due."""
    evening = evening_of(railway, SCRIPT)
    stands = threading.Event()

    def clock() -> float:
        stands.set()
        return 1000.0

    live = Live(evening, (), clock, on_words=lambda words: None)
    thread = threading.Thread(target=live.run, daemon=True)
    thread.start()
    assert stands.wait(LONGEST_S)
    live.stop()
    thread.join(LONGEST_S)
    assert not thread.is_alive()
    assert evening.timeline.now_s == 0.0


@pytest.fixture
def broker(need: Callable[[str], str], tmp_path: Path) -> Iterator[int]:
    """The port of a Mosquitto of our own."""
    program = need("mosquitto")
    port = free_port()
    settings = tmp_path / "broker.conf"
    settings.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\nlog_dest none\n")
    process = subprocess.Popen([program, "-c", str(settings)])
    try:
        wait_reachable(port)
        yield port
    finally:
        process.terminate()
        process.wait(5)


@pytest.mark.wires
def test_a_board_on_a_broker_answers_and_says_when_it_goes(railway: Railway, broker: int) -> None:
    records: queue.Queue[Record] = queue.Queue()
    link = MqttLink(time.monotonic, "line", Broker("127.0.0.1", broker), ["one"])
    boards = BrokerBoards("line", "127.0.0.1", broker, ["one"])
    link.start(heard(records))
    try:
        evening = evening_of(railway, SCRIPT)
        with Running(evening, boards):
            until(records, lambda r: isinstance(r, BoardUp))
            assert link.send("one", Ask())
            until(records, lambda r: isinstance(r, Received) and isinstance(r.line, Hello))
            until(records, lambda r: isinstance(r, Received) and isinstance(r.line, Report))
            boards.tell("depart g1")
            until(records, lambda r: getattr(r, "words", "") == "depart g1")
            evening.on_link(evening.boards["one"], False)
            until(records, lambda r: isinstance(r, BoardDown))
            evening.on_link(evening.boards["one"], True)
            until(records, lambda r: isinstance(r, BoardUp))
        until(records, lambda r: isinstance(r, BoardDown))
    finally:
        link.stop()
