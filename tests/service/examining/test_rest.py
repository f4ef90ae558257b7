"""Ports, store, clock and folder examined, each with what is wrong with it; no part keeps another from its turn."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import threading
import tty
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bridge.folder import load
from bridge.journal import Journal, Moment, Opening, Page
from bridge.service.examining import Finding, examined
from bridge.service.examining.clock import clock_findings
from bridge.service.examining.finding import good
from bridge.service.examining.folder import folder_findings
from bridge.service.examining.ports import port_findings
from bridge.service.examining.store import commits, space, store_findings
from bridge.wire.records import HostStarted

RAILWAY = Path(__file__).parents[2] / "recordings" / "railway"
SEEN = datetime(2026, 5, 1, 20, 0, tzinfo=UTC).timestamp()


def levels(findings: list[Finding]) -> Counter[str]:
    return Counter(finding.level for finding in findings)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "branch.store"
    journal = Journal(path, "branch")
    page = Page(1, 1, [HostStarted(0.0)] * 400, (), Opening({"railway.toml": b""}, False))
    journal.append(page, Moment(0.0, SEEN))
    journal.close()
    return path


def test_a_part_that_raises_or_hangs_is_a_finding() -> None:
    never = threading.Event()

    def hang() -> list[Finding]:
        never.wait()
        return []

    def half():
        yield good("so far")
        raise ZeroDivisionError("by nothing")

    found = examined({"half": half, "hangs": hang, "whole": lambda: [good("done")]}, 0.3)
    never.set()
    assert [finding.text for finding in found["whole"]] == ["done"]
    assert [finding.level for finding in found["half"]] == ["good", "fault"]
    assert "ZeroDivisionError: by nothing" in found["half"][1].text
    assert "took longer" in found["hangs"][0].text


def test_a_store_that_is_sound(store: Path, level: Callable) -> None:
    found = list(store_findings(store, "branch"))
    assert levels(found)["fault"] == 0
    assert level(found, "1 session, 400 lines") == "good"
    assert level(found, "nothing is damaged") == "good"
    assert level(found, "Nobody writes") == "good"
    assert {path.name for path in store.parent.iterdir() if path.name.startswith(".doctor")} == set()


def test_who_writes_to_a_store(store: Path, level: Callable) -> None:
    """The process that holds the lock is another one: this one's own handles are left out."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        Journal(store, "branch")
        os.write(writing, b"x")
        threading.Event().wait(30)
        os._exit(0)
    try:
        os.read(reading, 1)
        assert level(list(store_findings(store, "branch")), f"(process {child})") == "good"
    finally:
        os.kill(child, 9)
        os.waitpid(child, 0)


def test_a_store_of_another_railway_or_of_something_else(store: Path, tmp_path: Path, level: Callable) -> None:
    assert level(list(store_findings(store, "other")), "belongs to the railway branch") == "fault"
    (tmp_path / "text.store").write_text("no database" * 100)
    assert level(list(store_findings(tmp_path / "text.store", "branch")), "is no store") == "fault"
    with sqlite3.connect(tmp_path / "foreign.store") as db:
        db.execute("CREATE TABLE other (a)")
    assert level(list(store_findings(tmp_path / "foreign.store", "branch")), "something else") == "fault"


def test_a_damaged_store_is_found(store: Path, level: Callable) -> None:
    pages = bytearray(store.read_bytes())
    pages[5 * 4096 + 8 : 5 * 4096 + 1000] = b"\xff" * 992
    store.write_bytes(pages)
    assert levels(list(store_findings(store, "branch")))["fault"] == 1


def test_no_store_yet_and_nowhere_to_keep_one(tmp_path: Path, level: Callable) -> None:
    assert levels(list(store_findings(tmp_path / "new.store", "branch")))["fault"] == 0
    assert level(list(store_findings(tmp_path / "none" / "new.store", "branch")), "There is no folder") == "fault"


@pytest.mark.parametrize(
    ("total", "free", "is_little"),
    [(64e9, 600e6, False), (64e9, 400e6, True), (4e9, 250e6, False), (4e9, 150e6, True)],
)
def test_room_on_the_disk(tmp_path: Path, total: float, free: float, is_little: bool) -> None:
    assert (space(tmp_path, lambda _: (int(total), int(free))).level == "fault") == is_little


def test_a_commit_is_measured(tmp_path: Path) -> None:
    assert " ms on that disk" in commits(tmp_path).text
    assert commits(tmp_path / "none").level == "fault"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("now", "said"),
    [(3_600.0, "cannot be"), (SEEN - 3_600, "the store has seen"), (SEEN - 1.0, None), (SEEN + 3_600, None)],
)
def test_the_time_of_day(store: Path, tmp_path: Path, now: float, said: str | None) -> None:
    clocks = tmp_path / "rtc"
    (clocks / "rtc0").mkdir(parents=True)
    (found,) = clock_findings(lambda: now, store, clocks, tmp_path / "synchronised")
    assert (found.level == "fault") == (said is not None)
    assert said is None or said in found.text


def test_a_machine_without_a_clock_of_its_own(tmp_path: Path) -> None:
    clocks, synchronised = tmp_path / "rtc", tmp_path / "synchronised"
    assert levels(list(clock_findings(lambda: SEEN, None, clocks, synchronised)))["advice"] == 1
    synchronised.touch()
    assert levels(list(clock_findings(lambda: SEEN, None, clocks, synchronised)))["advice"] == 0


@pytest.fixture
def terminal() -> str:
    master, slave = os.openpty()
    tty.setraw(slave)
    name = os.ttyname(slave)
    os.close(slave)
    yield name
    os.close(master)


def test_ports_that_open_and_ports_that_do_not(terminal: str, tmp_path: Path, level: Callable) -> None:
    found = list(port_findings([terminal, str(tmp_path / "gone")], ["alder"], list))
    assert level(found, f"{terminal} opens") == "good"
    assert level(found, "is not there") == "fault"


def test_no_port_where_a_board_should_be_on_one(level: Callable) -> None:
    assert level(list(port_findings([], ["alder", "birch"], list)), "alder and birch should be on one") == "fault"
    assert [finding.level for finding in port_findings([], [], list)] == ["good"]


def test_a_port_that_another_program_has(terminal: str, level: Callable) -> None:
    ready_out, ready_in = os.pipe()
    child = os.fork()
    if not child:
        os.open(terminal, os.O_RDWR | os.O_NOCTTY)
        os.write(ready_in, b"x")
        threading.Event().wait(30)
        os._exit(0)
    try:
        os.read(ready_out, 1)

        def open_none(path: str) -> None:
            raise AssertionError(f"{path} must be left alone")

        assert level(list(port_findings([terminal], [], list, open_none)), f"(process {child})") == "fault"
        assert level(list(port_findings([], [], lambda: [terminal], open_none)), f"(process {child})") == "advice"
    finally:
        os.kill(child, 9)
        os.waitpid(child, 0)


def test_a_port_that_may_not_be_opened_names_its_group(tmp_path: Path, level: Callable) -> None:
    port = tmp_path / "ttyUSB0"
    port.touch()

    def refuse(path: str) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", path)

    found = list(port_findings([], [], lambda: [str(port)], refuse))
    assert level(found, "sudo usermod -aG") == "fault" or level(found, "log in again") == "fault"


def test_the_folder_in_a_line(tmp_path: Path, level: Callable) -> None:
    folder, password = tmp_path / "oxlip", tmp_path / "oxlip" / "broker-password"
    shutil.copytree(RAILWAY, folder)
    assert level(list(folder_findings(folder, load(folder), password)), "in order") == "good"
    with (folder / "railway.toml").open("a") as file:
        file.write('\n[broker]\nhost = "127.0.0.1"\nuser = "me"\n')
    assert level(list(folder_findings(folder, load(folder), password)), "there is no file") == "fault"
    password.write_text("secret\n")
    password.chmod(0o644)
    said = list(folder_findings(folder, load(folder), password))
    assert level(said, "chmod 600") == "advice" and not any("secret" in f"{finding}" for finding in said)
    (folder / "railway.toml").write_text("nonsense")
    assert level(list(folder_findings(folder, load(folder), password)), "has faults") == "fault"
