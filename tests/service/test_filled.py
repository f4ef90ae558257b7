"""A disk filled a hundred times under a running service: nothing corrupt, nothing acknowledged lost, nothing twice."""

from __future__ import annotations

import resource
import sqlite3
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.folder import FolderRead
from bridge.journal import Reader, StoreError
from bridge.service import backlog, loop
from bridge.service.replaying import replay
from bridge.service.resuming import take_up
from bridge.wire.records import Received

from ..small_disk import SmallDisk, small_disk
from .conftest import SIMPLE, Live, report
from .test_killed import Sender, check, journalled

CYCLES = 100
AT_ONCE = 40
BIG = 1 << 30


class Quota:
    """No disk of its own: SQLite is told that the store may not grow, and says then what it says of a full disk."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.live: Live | None = None

    def fill(self) -> None:
        self._most(1)  # never below what is there

    def free(self) -> None:
        self._most(BIG)

    def _most(self, pages: int) -> None:
        assert self.live is not None
        connection(self.live).execute(f"PRAGMA max_page_count = {pages}")


def connection(live: Live) -> sqlite3.Connection:
    return live.resumed.desk._backlog._journal._db.conn


@contextmanager
def disk_of(kind: str, place: Path) -> Iterator[Any]:
    if kind == "quota":
        yield Quota(place)
    else:
        with small_disk(kind, place) as disk:
            yield disk


def check_is_whole(store: Path) -> None:
    conn = sqlite3.connect(f"file:{store}?mode=ro", uri=True)
    assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    conn.close()


class Feeder:
    """Brings reports, and keeps which of them were acknowledged."""

    def __init__(self, live: Live) -> None:
        self.live = live
        self.brought = 0
        self.acknowledged: list[int] = []
        self.news = threading.Condition()

    def bring(self) -> None:
        for _ in range(AT_ONCE):
            self.brought += 1
            one = report(self.brought, "off", board=f"brake{self.brought // 300}")  # no input seems to scream
            self.live.link.bring(one, done=lambda seq=self.brought: self._hear(seq))

    def bring_until(self, is_so: Callable[[], object]) -> None:
        until = time.monotonic() + 20
        while not is_so():
            assert time.monotonic() < until, self.live.log[-3:]
            self.bring()
            with self.live.news:
                self.live.news.wait_for(lambda: len(self.live.said) == self.brought, 5)  # shown, kept or not
            assert len(self.live.said) == self.brought, self.live.failure

    def wait(self) -> None:
        with self.news:
            assert self.news.wait_for(lambda: len(self.acknowledged) == self.brought, 20), self.live.log[-3:]

    def _hear(self, seq: int) -> None:
        with self.news:
            self.acknowledged.append(seq)
            self.news.notify_all()


@pytest.mark.parametrize("kind", ["ext4", "tmpfs", "quota"])
@pytest.mark.timeout(120)
def test_filled_a_hundred_times(
    tmp_path: Path, folder: FolderRead, railway: Railway, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setattr(backlog, "AGAIN_AFTER_S", 0.01)
    monkeypatch.setattr(loop, "LONGEST_WAIT_S", 0.01)
    with disk_of(kind, tmp_path) as disk:
        store = disk.path / "oxlip.store"
        live = Live(store, folder)
        if isinstance(disk, Quota):
            disk.live = live
        for setting in ("wal_autocheckpoint = 20", "journal_size_limit = 0"):  # so that little is kept in reserve
            connection(live).execute(f"PRAGMA {setting}")
        feeder = Feeder(live)
        for _ in range(CYCLES if kind != "tmpfs" else CYCLES // 5):
            disk.fill()
            feeder.bring_until(lambda: live.resumed.desk.unkept is not None)
            owed = feeder.brought - len(feeder.acknowledged)
            feeder.bring()
            assert 0 < owed <= feeder.brought - len(feeder.acknowledged)
            check_is_whole(store)
            disk.free()
            feeder.wait()
            check_is_whole(store)
        live.stop()
        assert live.failure is None
        with Reader.open(store) as reader:
            rows = list(reader.records(1))
    assert feeder.acknowledged == list(range(1, feeder.brought + 1))
    assert [row.record.line.seq for row in rows if isinstance(row.record, Received)] == feeder.acknowledged
    assert [row.n for row in rows] == list(range(1, len(rows) + 1))
    said = [outcome.as_dict() for outcome in replay(railway, (row.record for row in rows), SIMPLE)]
    assert [row["seq"] for row in said[:-1]] == [row["seq"] for row in live.said]
    assert any(line.startswith("Not kept since") for line in live.log)


@pytest.mark.timeout(60)
def test_a_disk_that_goes_read_only_and_comes_back(
    tmp_path: Path, folder: FolderRead, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backlog, "AGAIN_AFTER_S", 0.01)
    with small_disk("ext4", tmp_path) as disk:
        live = Live(disk.path / "oxlip.store", folder)
        feeder = Feeder(live)
        feeder.bring_until(lambda: feeder.brought)
        feeder.wait()
        disk.fail()
        feeder.bring_until(lambda: live.service.latest().snapshot["unkept"] is not None)
        why = live.service.latest().snapshot["unkept"]["why"]
        assert why in ("the disk is read-only", "the disk does not work as it should")  # not every system says which
        disk.bring_back()
        feeder.wait()
        assert [file.name for file in disk.path.glob("*-writer")] == ["oxlip.store-writer"]
        feeder.bring()
        feeder.wait()
        live.stop()
        check_is_whole(live.store)
        with Reader.open(live.store) as reader:
            seqs = [row.record.line.seq for row in reader.records(1) if isinstance(row.record, Received)]
    assert seqs == feeder.acknowledged == list(range(1, feeder.brought + 1))
    assert not (tmp_path / "disk" / "oxlip.store").exists()  # nothing was made beneath the place where the disk is mounted


class Watched(Sender):
    """Sees when the service says that the disk takes nothing."""

    def __init__(self, store: Path) -> None:
        super().__init__(store)
        self.is_unkept = threading.Event()

    def watch(self, child: subprocess.Popen[str]) -> None:
        assert child.stderr is not None
        for line in child.stderr:
            if line.startswith("Not kept since"):
                self.is_unkept.set()


@pytest.mark.parametrize("kind", ["ext4", "limit"])
@pytest.mark.timeout(60)
def test_killed_while_the_disk_is_full(tmp_path: Path, railway: Railway, kind: str) -> None:
    with small_disk("ext4", tmp_path) if kind == "ext4" else nullcontext(SmallDisk(tmp_path, None)) as disk:
        sender = Watched(disk.path / "oxlip.store")
        for up_to in (25, 50):
            sender.is_unkept.clear()
            child = sender.start("never", 0)
            threading.Thread(target=sender.watch, args=(child,), daemon=True).start()
            sender.send(child, up_to - 10)
            with sender.news:
                assert sender.news.wait_for(lambda up_to=up_to: len(sender.acknowledged) >= up_to - 10, 20)
            if kind == "ext4":
                disk.fill()
            else:
                resource.prlimit(child.pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
            sender.send(child, up_to)
            assert sender.is_unkept.wait(20)
            child.kill()
            child.wait(20)
            disk.free()
            assert sender.acknowledged <= set(journalled(sender.store))
            check_is_whole(sender.store)
        sender.finish(sender.start("never", 0))
        check(sender.store, railway, kills=2)


@pytest.mark.parametrize("kind", ["ext4", "tmpfs"])
def test_a_start_on_a_disk_that_takes_nothing_is_refused_with_the_reason(
    tmp_path: Path, folder: FolderRead, kind: str
) -> None:
    with small_disk(kind, tmp_path) as disk:
        store = disk.path / "oxlip.store"

        def refused() -> str:
            with pytest.raises(StoreError) as refusal:
                take_up(store, folder, SIMPLE, folder_again=lambda: folder)
            return str(refusal.value)

        disk.fill()
        assert "the disk is full. Make room" in refused()
        disk.free()
        live = Live(store, folder)
        live.bring(report(1, "off"))
        live.stop()
        disk.fill()
        assert "the disk is full. Make room" in refused()
        disk.free()
        disk.forbid()
        assert "the disk is read-only. Make" in refused()
        disk.allow()
        again = Live(store, folder)
        again.bring(report(1, "off"), report(2, "off"))
        again.stop()
        assert [row["seq"] for row in again.said] == [2]
        check_is_whole(store)
