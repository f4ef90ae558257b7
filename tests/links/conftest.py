"""What the links are tested with: an inbox that can be waited on, boards on pseudo-terminals, and a real broker."""

from __future__ import annotations

import os
import threading
import time
import tty
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from bridge.links.link import Arrival
from bridge.links.mqtt import Broker, MqttLink
from bridge.links.serial import SerialLink
from bridge.links.serial_port import Patience
from bridge.wire.encode import encode
from bridge.wire.lines import Line
from bridge.wire.records import Record

from .brokers import BoardClient, Mosquitto

if TYPE_CHECKING:
    from .live import Host, LiveBoard

QUICK = Patience(scan_s=0.02, first_retry_s=0.01, longest_retry_s=0.05, foreign_after_s=0.4)


class Inbox:
    """Keeps every arrival; `wait` returns as soon as what is waited for is there."""

    def __init__(self) -> None:
        self.arrivals: list[Arrival] = []
        self._counts: Counter[type] = Counter()
        self._news = threading.Condition()

    def __call__(self, arrival: Arrival) -> None:
        with self._news:
            self.arrivals.append(arrival)
            self._counts.update(type(record) for record in arrival.records)
            self._news.notify_all()

    @property
    def records(self) -> list[Record]:
        return [record for arrival in list(self.arrivals) for record in arrival.records]

    def of(self, kind: type) -> list:
        return [record for record in self.records if isinstance(record, kind)]

    def count(self, kind: type) -> int:
        """As many as `of` finds, at a cost that does not grow with what has come."""
        return self._counts[kind]

    def wait(self, is_there: Callable[[], object], seconds: float = 10.0) -> None:
        with self._news:
            assert self._news.wait_for(is_there, seconds), f"not within {seconds} s; there is {self.records}"


class PtyBoard:
    """A board at the end of a pseudo-terminal, plugged in under a path of its own."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._master: int | None = None

    def plug_in(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(slave)
        device = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(self._master, False)
        self.path.symlink_to(device)

    def unplug(self) -> None:
        self.path.unlink()
        self.cut()

    def cut(self) -> None:
        """The wire goes, its name stays."""
        assert self._master is not None
        os.close(self._master)
        self._master = None

    def say(self, *lines: Line) -> None:
        self.say_bytes(b"".join(encode(line) for line in lines))

    def say_bytes(self, data: bytes) -> int:
        """As many bytes as the wire takes; how many that were. BlockingIOError where it takes none."""
        assert self._master is not None
        return os.write(self._master, data)

    def heard(self) -> bytes:
        """What has been written to it since the last look."""
        assert self._master is not None
        try:
            return os.read(self._master, 4096)
        except OSError:  # nothing there, or nobody has the other end open
            return b""

    def wait_heard(self, data: bytes, seconds: float = 15.0) -> None:
        heard = b""
        until = time.monotonic() + seconds
        while data not in heard:
            assert time.monotonic() < until, f"heard only {heard!r}"
            heard += self.heard()
            time.sleep(0.005)


@pytest.fixture
def inbox() -> Inbox:
    return Inbox()


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Callable[[str], PtyBoard]]:
    """`plug("ttyA")`: a board plugged in at a path that ends so."""
    boards: list[PtyBoard] = []

    def plug_in(name: str) -> PtyBoard:
        board = PtyBoard(tmp_path / name)
        board.plug_in()
        boards.append(board)
        return board

    yield plug_in
    for board in boards:
        if board._master is not None:
            board.cut()


@pytest.fixture
def link_to(inbox: Inbox) -> Iterator[Callable[..., SerialLink]]:
    """`link_to(board, ...)`: a started link with these boards' paths named, and further ports listed."""
    links: list[SerialLink] = []

    def make(
        *boards,
        clock: Callable[[], float] = time.monotonic,
        listed: Callable[[], list[str]] = list,
        patience: Patience = QUICK,
        into: Inbox = inbox,
        **more,
    ) -> SerialLink:
        paths = [str(getattr(board, "path", board)) for board in boards]
        links.append(SerialLink(clock, paths, list_ports=listed, patience=patience, **more))
        links[-1].start(into)
        return links[-1]

    yield make
    for link in links:
        link.stop()


@pytest.fixture
def host() -> Iterator[Host]:
    """An inbox behind which boards are asked."""
    from .live import Host  # which needs this module

    made = Host()
    yield made
    made.stop()


@pytest.fixture
def board() -> Iterator[Callable[..., LiveBoard]]:
    """`board("alder")`: a board's program, on no wire yet."""
    from .live import LiveBoard  # which needs this module

    made: list[LiveBoard] = []

    def make(*how, **more) -> LiveBoard:
        made.append(LiveBoard(*how, **more))
        return made[-1]

    yield make
    for live in made:
        live.stop()


@pytest.fixture
def new_broker(tmp_path: Path, need: Callable[[str], str]) -> Iterator[Callable[..., Mosquitto]]:
    """`new_broker("setting", ...)`: a broker with these settings, not started."""
    program = need("mosquitto")
    brokers: list[Mosquitto] = []

    def make(*settings: str) -> Mosquitto:
        folder = tmp_path / f"broker-{len(brokers)}"
        folder.mkdir()
        brokers.append(Mosquitto(program, folder, settings or ("allow_anonymous true",)))
        return brokers[-1]

    yield make
    for broker in brokers:
        broker.stop()


@pytest.fixture
def broker(new_broker: Callable[..., Mosquitto]) -> Mosquitto:
    """A running broker that lets everybody in."""
    started = new_broker()
    started.start()
    return started


@pytest.fixture
def client_of() -> Iterator[Callable[..., BoardClient]]:
    """`client_of(broker)`: a board, or anybody else, on that broker."""
    clients: list[BoardClient] = []

    def make(broker: Mosquitto, *will: str, **login: str) -> BoardClient:
        clients.append(BoardClient(broker.port, will if will else None, **login))
        return clients[-1]

    yield make
    for client in clients:
        client.leave()


@pytest.fixture
def link_on(inbox: Inbox) -> Iterator[Callable[..., MqttLink]]:
    """`link_on(broker)`: a started link, by default into the inbox that can be waited on."""
    links: list[MqttLink] = []

    def make(broker: Mosquitto, into=inbox, boards=(), clock=time.monotonic, **more) -> MqttLink:
        links.append(MqttLink(clock, "branch", Broker("127.0.0.1", broker.port, **more), boards))
        links[-1].start(into)
        return links[-1]

    yield make
    for link in links:
        link.stop()
