"""A capture played: at once, at its pace, and stopped in the middle."""

from __future__ import annotations

import threading
import time

from bridge.links.capture import CaptureLink
from bridge.wire.capture import CaptureFault
from bridge.wire.lines import Ask
from bridge.wire.records import HostStarted, HostStopped, Opened, Said

LINES = [
    "# an evening\n",
    "1.000000 host started\n",
    "1.100000 mqtt !opened\n",
    "1.200000 operator go-on\n",
    "61.2 host stopped\n",
]


class Clock:
    """A clock that stands until it is set."""

    def __init__(self) -> None:
        self.t = 500.0

    def __call__(self) -> float:
        return self.t


def test_at_once_and_with_the_captured_seconds(inbox) -> None:
    link = CaptureLink(Clock(), LINES, on_fault=lambda fault: None)
    link.start(inbox)
    assert link.finished.wait(5)
    assert inbox.records == [HostStarted(1.0), Opened(1.1, "mqtt"), Said(1.2, None, "go-on"), HostStopped(61.2)]
    assert all(arrival.done is None for arrival in inbox.arrivals)
    assert not link.send("alder", Ask())
    assert link.troubles() == ()
    link.stop()


def test_at_a_speed(inbox) -> None:
    began = time.monotonic()
    link = CaptureLink(time.monotonic, LINES[:4], on_fault=lambda fault: None, speed=0.5)
    link.start(inbox)
    inbox.wait(lambda: len(inbox.records) == 3)
    took_s = time.monotonic() - began
    assert 0.4 <= took_s < 2.0  # 0.2 s at half the pace
    link.stop()


def test_stopped_while_it_waits(inbox) -> None:
    link = CaptureLink(Clock(), LINES, on_fault=lambda fault: None, speed=1.0)
    link.start(inbox)
    inbox.wait(lambda: inbox.records)
    link.stop()
    assert inbox.records == [HostStarted(1.0)]
    assert not link.finished.is_set()


def test_faults_are_handed_on_and_playing_goes_on(inbox) -> None:
    faults: list[CaptureFault] = []
    link = CaptureLink(Clock(), ["nonsense\n", *LINES], on_fault=faults.append)
    link.start(inbox)
    assert link.finished.wait(5)
    assert [fault.line_no for fault in faults] == [1]
    assert len(inbox.records) == 4


def test_a_full_inbox_holds_it_back() -> None:
    gate = threading.Semaphore(1)
    taken = []

    def take(arrival) -> None:
        gate.acquire()
        taken.append(arrival)

    link = CaptureLink(Clock(), LINES, on_fault=lambda fault: None)
    link.start(take)
    assert not link.finished.wait(0.1)
    assert len(taken) == 1
    for _ in LINES:
        gate.release()
    assert link.finished.wait(5)
    link.stop()
