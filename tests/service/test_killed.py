"""Wherever a kill finds the service: nothing acknowledged is lost, nothing counts twice, the register is the same."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.journal import Reader, gaps
from bridge.service.replaying import replay
from bridge.wire.records import HostStarted, HostStopped, Received

from .conftest import SIMPLE

CHILD = Path(__file__).with_name("killed.py")
COUNT = 60


class Sender:
    """What a broker does: sends in order, and sends again on each start what was not acknowledged."""

    def __init__(self, store: Path) -> None:
        self.store = store
        self.acknowledged: set[int] = set()
        self.news = threading.Condition()

    def start(self, point: str, at: int) -> subprocess.Popen[str]:
        command = [sys.executable, str(CHILD), str(self.store), point, str(at)]
        pipe = subprocess.PIPE
        child = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe, text=True)
        threading.Thread(target=self._listen, args=(child,), daemon=True).start()
        return child

    def send(self, child: subprocess.Popen[str], up_to: int) -> None:
        assert child.stdin is not None
        waiting = [seq for seq in range(1, up_to + 1) if seq not in self.acknowledged]
        try:
            child.stdin.write("".join(f"{seq}\n" for seq in waiting))
            child.stdin.flush()
        except BrokenPipeError:
            pass  # it has been killed already

    def finish(self, child: subprocess.Popen[str]) -> None:
        self.send(child, COUNT)
        with self.news:
            assert self.news.wait_for(lambda: len(self.acknowledged) == COUNT, 20)
        assert child.stdin is not None
        child.stdin.write("0\n")
        child.stdin.flush()
        assert child.wait(20) == 0

    def _listen(self, child: subprocess.Popen[str]) -> None:
        assert child.stdout is not None
        for line in child.stdout:
            with self.news:
                self.acknowledged.add(int(line))
                self.news.notify_all()


def journalled(store: Path) -> list[int]:
    with Reader.open(store) as reader:
        return [row.record.line.seq for row in reader.records(1) if isinstance(row.record, Received)]


def check(store: Path, railway: Railway, kills: int) -> None:
    with Reader.open(store) as reader:
        rows = list(reader.records(1))
    records = [row.record for row in rows]
    said = [outcome.as_dict() for outcome in replay(railway, records, SIMPLE)]
    assert [row["seq"] for row in said if row["says"] == "observed"] == list(range(1, COUNT + 1))
    assert gaps(rows) == ()
    assert sum(isinstance(record, HostStarted) for record in records) == kills + 1
    assert sum(isinstance(record, HostStopped) for record in records) == kills + 1
    times = [record.t for record in records]
    assert times == sorted(times)


@pytest.mark.parametrize(("point", "is_kept"), [("in-batch", False), ("committed", True), ("folded", True)])
def test_a_kill_in_the_middle_of_a_batch(tmp_path: Path, railway: Railway, point: str, is_kept: bool) -> None:
    sender = Sender(tmp_path / "oxlip.store")
    child = sender.start(point, 37)
    sender.send(child, COUNT)
    assert child.wait(20) == -9
    kept = journalled(sender.store)
    assert 37 not in sender.acknowledged
    assert sender.acknowledged <= set(kept)
    assert (37 in kept) == is_kept
    sender.finish(sender.start("never", 0))
    check(sender.store, railway, kills=1)


def test_kills_at_any_moment(tmp_path: Path, railway: Railway) -> None:
    sender = Sender(tmp_path / "oxlip.store")
    for up_to in (20, 40):
        child = sender.start("never", 0)
        for next_one in range(1, up_to + 1):
            sender.send(child, next_one)
            time.sleep(0.001)  # so that the kill finds it at work, and not with all in one batch
            if len(sender.acknowledged) >= up_to - 10:
                break
        with sender.news:
            assert sender.news.wait_for(lambda up_to=up_to: len(sender.acknowledged) >= up_to - 10, 20)
        child.kill()
        child.wait(20)
        assert sender.acknowledged <= set(journalled(sender.store))
    sender.finish(sender.start("never", 0))
    check(sender.store, railway, kills=2)
