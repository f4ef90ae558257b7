"""Word to the supervisor: over a real socket of each kind, and never at the cost of the loop."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.journal import NotWrittenError
from bridge.service.loop import Service
from bridge.service.notify import Supervisor

from .conftest import SIMPLE, Live, report

pytestmark = pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="no such sockets here")
GoLive = Callable[..., Live]


class Listener:
    """What systemd is to a service: a datagram socket."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind("\0" + address[1:] if address.startswith("@") else address)

    def next(self, seconds: float = 10.0) -> str | None:
        self.socket.settimeout(seconds)
        try:
            return self.socket.recv(4096).decode()
        except TimeoutError:
            return None

    def until(self, words: str) -> None:
        until = time.monotonic() + 10
        while (came := self.next()) != words:
            assert came is not None and time.monotonic() < until, words

    def drain(self) -> list[str]:
        """All that has been sent so far."""
        found = []
        self.socket.setblocking(False)
        try:
            while True:
                found.append(self.socket.recv(4096).decode())
        except BlockingIOError:
            return found


@pytest.fixture(params=["path", "abstract"])
def listener(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Listener]:
    if request.param == "abstract" and not os.uname().sysname.startswith("Linux"):
        pytest.skip("abstract sockets are Linux's")
    made = Listener(str(tmp_path / "notify") if request.param == "path" else f"@numbertaker-test-{os.getpid()}")
    yield made
    made.socket.close()


def test_the_words_are_those_of_the_protocol(listener: Listener) -> None:
    """sd_notify(3)."""
    supervisor = Supervisor(listener.address)
    supervisor.runs()
    supervisor.fares("Session running,\nboards heard 2 of 3")
    supervisor.fares("Session running,\nboards heard 2 of 3")
    supervisor.lives()
    supervisor.stops()
    assert listener.drain() == ["READY=1", "STATUS=Session running, boards heard 2 of 3", "STOPPING=1"]


def test_signs_of_life_come_thrice_in_the_time_that_is_waited(listener: Listener) -> None:
    now_s = [100.0]
    supervisor = Supervisor(listener.address, 30.0, lambda: now_s[0])
    for _ in range(300):
        supervisor.lives()
        now_s[0] += 0.25
    assert listener.drain() == ["WATCHDOG=1"] * 8


@pytest.mark.parametrize(
    ("environ", "every_s"),
    [
        ({}, None),
        ({"WATCHDOG_USEC": "30000000"}, 10.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}, 10.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "²"}, None),
        ({"WATCHDOG_USEC": ""}, None),
    ],
)
def test_the_environment_says_what_is_waited_for(environ: dict[str, str], every_s: float | None) -> None:
    """sd_watchdog_enabled(3)."""
    assert Supervisor.of(environ)._every_s == every_s


@pytest.mark.parametrize("address", [None, "", "relative/path", "vsock:2:1234", "/nowhere/at/all", "@", "/" + "x" * 300])
def test_where_nobody_listens_nothing_fails(address: str | None) -> None:
    supervisor = Supervisor(address, 0.001)
    for word in (supervisor.runs, supervisor.lives, supervisor.stops):
        word()
    supervisor.fares("well")


def test_a_supervisor_that_does_not_read_holds_nothing_up(listener: Listener) -> None:
    supervisor = Supervisor(listener.address, 0.0)
    began = time.monotonic()
    for _ in range(20_000):
        supervisor.lives()
    assert time.monotonic() - began < 5.0
    assert set(listener.drain()) == {"WATCHDOG=1"}


@pytest.fixture
def watcher(tmp_path: Path) -> Iterator[Listener]:
    made = Listener(str(tmp_path / "watcher"))
    yield made
    made.socket.close()


@pytest.fixture
def watched(watcher: Listener, go_live: GoLive) -> Live:
    return go_live(supervisor=Supervisor(watcher.address, 0.15))


def test_a_loop_that_serves_is_alive_and_says_when_it_stops(watched: Live, watcher: Listener) -> None:
    watcher.until("READY=1")
    for _ in range(6):
        watcher.until("WATCHDOG=1")
    watched.bring(report(1, "off"))
    watcher.until("WATCHDOG=1")
    watched.stop()
    assert [word for word in watcher.drain() if not word.startswith(("WATCHDOG", "STATUS"))] == ["STOPPING=1"]


def test_a_loop_stuck_in_a_write_says_nothing_until_it_goes_on(watched: Live, watcher: Listener) -> None:
    """A disk that does not answer: what a watchdog is for."""
    go_on, stuck = threading.Event(), threading.Event()
    journal = journal_of(watched.service)
    append = journal.append

    def hanging(*page: Any) -> None:
        stuck.set()
        assert go_on.wait(20)
        append(*page)

    journal.append = hanging
    done = threading.Event()
    watched.link.bring(report(1, "off"), done=done.set)
    assert stuck.wait(10)
    watcher.drain()
    assert watcher.next(1.0) is None  # in twenty times the time in which it would have spoken
    assert watched.service.fitness().loop_age_s > 0.9
    assert not done.is_set()
    go_on.set()
    watcher.until("WATCHDOG=1")
    assert done.wait(10)


def test_a_loop_whose_disk_is_full_is_alive(watched: Live, watcher: Listener) -> None:
    """A restart would make no room, and lose what waits for it."""
    journal = journal_of(watched.service)
    append, full = journal.append, True

    def refusing(*page: Any) -> None:
        if full:
            raise NotWrittenError("evenings.store: database or disk is full", "the disk is full", "Make room.")
        append(*page)

    journal.append = refusing
    watched.link.bring(report(1, "off"))
    watched.wait(lambda: watched.said)
    watcher.drain()
    for _ in range(5):
        watcher.until("WATCHDOG=1")
    until = time.monotonic() + 10
    while watched.service.fitness().unkept != 1:
        assert time.monotonic() < until
    full = False
    while watched.service.fitness().unkept:
        assert time.monotonic() < until


def journal_of(service: Service) -> Any:
    return service._desk._backlog._journal


def test_what_the_loop_did_is_counted(go_live: GoLive) -> None:
    live = go_live(SIMPLE)
    live.bring(report(1, "off"))
    live.bring(report(2, "off"), report(3, "off"))
    fit = live.service.fitness()
    assert (fit.lines, fit.rejects, fit.records) == ({"serial-x": 3}, {}, 4)  # the start is a record too
    assert fit.commits.total == 3 and 0 < fit.commits.seconds < 30
    assert fit.commits.age_s is not None and fit.commits.age_s < 10
    assert fit.loop_age_s < 10 and fit.turns >= 2
    until = time.monotonic() + 10
    while live.service.fitness().free_bytes is None:
        assert time.monotonic() < until
