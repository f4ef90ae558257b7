"""`numbertaker backup`: an exact beginning of the store, taken from under its writer, or none and no trace of one."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.folder import FolderRead, load
from bridge.journal import Journal, Moment, Opening, Page, Reader
from bridge.service.core import CORE
from bridge.service.recounting import recount
from bridge.service.resuming import take_up
from bridge.wire.lines import Report
from bridge.wire.records import HostStarted, HostStopped, Received, Record, Said

from ..small_disk import small_disk
from .conftest import COMMAND, RAILWAY

A_SECOND = 200


class Writer:
    """Writes a session into a store, 200 lines a second, until it is told to stop."""

    def __init__(self, store: Path, folder: FolderRead) -> None:
        assert folder.railway is not None
        self.journal = Journal(store, folder.railway.plant.id)
        self.opening = Opening(folder.texts, False)
        self.detectors = [d for d in folder.railway.plant.detectors.values() if d.kind.value == "track"]
        self.n = 0
        self.slowest_s = 0.0
        self.stopping = threading.Event()
        self.thread = threading.Thread(target=self._write)

    def write(self, *records: Record) -> None:
        first = self.n == 0
        now = Moment(records[-1].t, 1_795_612_800.0 + records[-1].t)
        began = time.monotonic()
        self.journal.append(Page(1, self.n + 1, records, opens=self.opening if first else None), now)
        self.slowest_s = max(self.slowest_s, time.monotonic() - began)
        self.n += len(records)

    def report(self, n: int) -> Received:
        detector, t = self.detectors[n % len(self.detectors)], n / A_SECOND
        line = Report(detector.board, 5, n, int(t * 1000), detector.input, "on" if n % 4 < 2 else "off")
        return Received(t, "mqtt", line)

    def _write(self) -> None:
        next_s = time.monotonic()
        while not self.stopping.is_set():
            self.write(self.report(self.n))
            next_s += 1 / A_SECOND
            time.sleep(max(0.0, next_s - time.monotonic()))

    def stop(self) -> None:
        self.stopping.set()
        if self.thread.is_alive():
            self.thread.join()
        self.journal.close()


@pytest.fixture
def railway() -> FolderRead:
    return load(RAILWAY)


@pytest.fixture
def writer(tmp_path: Path, railway: FolderRead) -> Iterator[Writer]:
    made = Writer(tmp_path / "oxlip.store", railway)
    begun = HostStarted(0.0), Said(0.0, "ann", "begin 19:00")
    made.write(*begun, *(made.report(n) for n in range(2, 1_000)))
    yield made
    made.stop()


def everything(store: Path) -> dict[str, list[tuple[object, ...]]]:
    """All rows of a store that are of a session."""
    conn = sqlite3.connect(f"file:{store}?mode=ro", uri=True)
    found = {table: conn.execute(f"SELECT * FROM {table}").fetchall() for table in ("sessions", "folders", "records")}
    conn.close()
    return found


def beside(file: Path) -> list[str]:
    """What else lies where a backup was to be."""
    return sorted(other.name for other in file.parent.iterdir() if other != file)


def test_it_is_an_exact_beginning_of_a_store_that_is_being_written(writer: Writer, tmp_path: Path, capsys) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    writer.thread.start()
    taken: list[int] = []
    for number in range(3):
        copy = place / f"{number}.store"
        before = writer.n
        assert main(["backup", str(writer.journal.path), str(copy)]) == 0
        mine, its = everything(copy), everything(writer.journal.path)
        assert mine["sessions"] == its["sessions"]
        assert mine["folders"] == its["folders"]
        assert mine["records"] == its["records"][: len(mine["records"])]
        assert before <= len(mine["records"]) <= len(its["records"])
        taken.append(len(mine["records"]))
        conn = sqlite3.connect(copy)
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        conn.close()
        with Reader.open(copy) as told, Reader.open(writer.journal.path) as original:
            session = told.sessions()[0]
            assert recount(told, session).outcomes == recount(original, session).outcomes
    assert taken[0] < taken[1] < taken[2]  # it was being written all the while
    assert writer.slowest_s < 2.0
    assert beside(place / "0.store") == ["1.store", "2.store"]
    out = capsys.readouterr().out
    assert f"0.store: sessions 1, lines {taken[0]:,}, " in out
    assert f"line by line the beginning of {writer.journal.path}; session 1 told again says the same (" in out


def test_it_goes_on_from_a_backup(writer: Writer, tmp_path: Path, railway: FolderRead) -> None:
    writer.stop()
    copy = tmp_path / "copy.store"
    assert main(["backup", str(writer.journal.path), str(copy), "--all"]) == 0
    resumed = take_up(copy, railway, CORE, folder_again=lambda: railway)
    assert resumed.desk.session == 1
    (taken,) = resumed.desk.take([HostStarted(resumed.clock())])
    assert taken.n == writer.n + 2  # behind the stop that the kill left out
    resumed.desk.close()
    with Reader.open(copy) as reader:
        kept = [row.record for row in reader.records(1)]
    assert [type(record) for record in kept[-2:]] == [HostStopped, HostStarted]


def test_an_older_backup_stays_unless_it_is_to_be_replaced(writer: Writer, tmp_path: Path, capsys) -> None:
    copy = tmp_path / "copy.store"
    copy.write_text("yesterday")
    assert main(["backup", str(writer.journal.path), str(copy)]) == 1
    assert "There is a file" in capsys.readouterr().err
    assert copy.read_text() == "yesterday"
    assert main(["backup", str(writer.journal.path), str(copy), "--replace"]) == 0
    assert len(everything(copy)["records"]) == writer.n


@pytest.mark.parametrize("name", ["oxlip.store", "oxlip.store-wal", "link"])
def test_the_store_itself_is_never_written_over(writer: Writer, tmp_path: Path, capsys, name: str) -> None:
    (tmp_path / "link").symlink_to(writer.journal.path)
    before = everything(writer.journal.path)
    assert main(["backup", str(writer.journal.path), str(tmp_path / name), "--replace"]) == 1
    assert "is the store itself" in capsys.readouterr().err
    assert everything(writer.journal.path) == before


@pytest.mark.parametrize(
    ("store", "target", "why"),
    [
        ("nowhere.store", "copy.store", "There is no store"),
        ("oxlip.store", "nowhere/copy.store", "There is no folder"),
        ("oxlip.store", ".", "is a folder"),
    ],
)
def test_what_cannot_be_is_told(writer: Writer, tmp_path: Path, capsys, store: str, target: str, why: str) -> None:
    assert main(["backup", str(tmp_path / store), str(tmp_path / target)]) == 1
    assert why in capsys.readouterr().err
    assert not [name for name in beside(tmp_path / store) if name.startswith(".")]


def test_a_full_disk_leaves_nothing_behind(writer: Writer, tmp_path: Path, capsys) -> None:
    (tmp_path / "small").mkdir()
    with small_disk("tmpfs", tmp_path / "small") as disk:
        copy = disk.path / "copy.store"
        copy.write_text("yesterday")
        disk.fill()
        assert main(["backup", str(writer.journal.path), str(copy), "--replace"]) == 1
        assert "cannot be written: the disk is full. Make room" in capsys.readouterr().err
        assert copy.read_text() == "yesterday"
        assert beside(copy) == ["filler"]
        disk.free()
        assert main(["backup", str(writer.journal.path), str(copy), "--replace"]) == 0


def test_a_disk_that_takes_no_more_leaves_nothing_behind(writer: Writer, tmp_path: Path) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    command = [*COMMAND, "backup", str(writer.journal.path), str(place / "copy.store")]

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    done = subprocess.run(command, check=False, capture_output=True, text=True, preexec_fn=bound, env=dict(os.environ))
    assert done.returncode == 1
    assert done.stderr.startswith(f"numbertaker backup: The backup {place / 'copy.store'} cannot be written: ")
    assert list(place.iterdir()) == []


def test_a_damaged_store_is_told_so_and_not_copied(writer: Writer, tmp_path: Path, capsys) -> None:
    writer.stop()
    store = writer.journal.path
    content = bytearray(store.read_bytes())
    content[40_960:57_344] = b"\x55" * 16_384
    store.write_bytes(bytes(content))
    assert main(["backup", str(store), str(tmp_path / "copy.store")]) == 1
    err = capsys.readouterr().err
    assert "is damaged" in err
    assert "no backup was made of it. Go on from an older one" in err
    assert not (tmp_path / "copy.store").exists()
    assert not [name for name in beside(store) if "copy" in name]
