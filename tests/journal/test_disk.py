"""What the disk refuses: told by SQLite's code, tried again without writing anything twice, and never taken for damage."""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

import pytest

from bridge.journal import Journal, Moment, NotWrittenError, Opening, Page, Reader, StoreError
from bridge.journal.refusals import refusal
from bridge.journal.store import MOST_LEFT_BYTES
from bridge.wire.records import HostStarted, Said

from .conftest import FOLDER, NOW

LONG = "explain i1 " + "so it was " * 20


def refused(code: int) -> sqlite3.OperationalError:
    error = sqlite3.OperationalError("so SQLite says")
    error.sqlite_errorcode = code
    return error


def beside(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


@pytest.mark.parametrize(
    ("code", "expected"),  # https://sqlite.org/rescode.html
    [
        (13, "the disk is full"),
        (10 | 12 << 8, "the disk does not work as it should"),
        (10 | 19 << 8, "the disk is full"),  # no room for the file that is shared
        (8 | 4 << 8, "the disk is read-only"),
        (5, "another program holds the store"),
        (5 | 2 << 8, "another program holds the store"),
        (14, "the store cannot be reached"),
        (11 | 1 << 8, StoreError),
        (26, StoreError),
        (1, sqlite3.OperationalError),
        (19, sqlite3.OperationalError),
        (0, sqlite3.OperationalError),
    ],
)
def test_what_may_be_tried_again_is_told_by_its_code(tmp_path: Path, code: int, expected: str | type) -> None:
    said = refusal(tmp_path / "evenings.store", refused(code))
    if isinstance(expected, str):
        assert isinstance(said, NotWrittenError)
        assert said.why == expected
        assert said.do.endswith(".")
    else:
        assert type(said) is expected


def test_a_store_that_another_program_holds_is_not_waited_for_long(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    with pytest.raises(NotWrittenError) as refusal:
        journal.append(Page(1, 16, [HostStarted(26.0)]), NOW)
    assert time.monotonic() - began < 2.0
    assert refusal.value.why == "another program holds the store"
    other.execute("ROLLBACK")
    journal.append(Page(1, 16, [HostStarted(26.0)]), NOW)
    other.close()
    assert journal.reader.sessions()[0].lines == 16


def fail_once(journal: Journal, code: int, is_taken: bool) -> None:
    """Have the next append fail, though the disk may have taken it."""
    write, left = journal._write, [True]

    def failing(page: Page, now: Moment) -> None:
        if not left:
            write(page, now)
            return
        left.clear()
        if is_taken:
            write(page, now)
            journal._db.conn.execute("COMMIT")
        raise refused(code)

    journal._write = failing


@pytest.mark.parametrize("is_taken", [False, True])
def test_after_an_error_of_the_disk_nothing_is_written_twice(
    journal: Journal, path: Path, first_page, is_taken: bool
) -> None:
    journal.append(first_page(), NOW)
    fail_once(journal, 10 | 4 << 8, is_taken)
    page = Page(1, 16, [HostStarted(26.0)], deadlines=[(16, 27.0)])
    with pytest.raises(NotWrittenError):
        journal.append(page, NOW)
    journal.append(page, NOW)
    journal.append(Page(1, 17, [HostStarted(28.0)]), NOW)
    with Reader.open(path) as reader:
        assert [row.n for row in reader.records(1)] == list(range(1, 18))
        assert reader.deadlines(1) == ((16, 27.0),)


def test_a_store_that_is_gone_is_not_made_anew(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    fail_once(journal, 10, False)
    page = Page(1, 16, [HostStarted(26.0)])
    away = path.parent / "away"
    away.mkdir()
    with pytest.raises(NotWrittenError):
        journal.append(page, NOW)
    journal._db.close()
    path.rename(away / path.name)
    with pytest.raises(NotWrittenError) as refusal:
        journal.append(page, NOW)
    assert refusal.value.why == "the store cannot be reached"
    assert not path.exists()
    (away / path.name).rename(path)
    journal.append(page, NOW)
    assert journal.reader.sessions()[0].lines == 16


@pytest.mark.parametrize("what", ["an empty file", "a longer store", "a shorter store"])
def test_another_store_in_its_place_is_not_written_to(journal: Journal, path: Path, first_page, what: str) -> None:
    journal.append(first_page(), NOW)
    fail_once(journal, 10, False)
    page = Page(1, 16, [HostStarted(26.0)])
    with pytest.raises(NotWrittenError):
        journal.append(page, NOW)
    journal._db.close()
    mine = path.rename(path.with_name("mine"))
    if what == "an empty file":
        path.touch()
    else:
        other = Journal(path.with_name("other"), "example")
        other.append(first_page(), NOW)
        if what == "a longer store":
            other.append(Page(1, 16, [HostStarted(26.0), HostStarted(27.0)]), NOW)
        else:
            other.append(Page(2, 1, [HostStarted(26.0)], opens=Opening(FOLDER, False)), NOW)
        other.close()
        other.path.rename(path)
    before = path.read_bytes()
    with pytest.raises(NotWrittenError) as refusal:
        journal.append(page, NOW)
    assert "not the one that was left" in refusal.value.why
    assert path.read_bytes() == before
    mine.replace(path)
    journal.append(page, NOW)
    assert journal.reader.sessions()[0].lines == 16


def write_much(journal: Journal, first_n: int) -> int:
    """Some 8 MB in commits of 100 lines; the next number."""
    for n in range(first_n, first_n + 20_000, 100):
        journal.append(Page(1, n, [Said(30.0, None, LONG)] * 100), NOW)
    return first_n + 20_000


def test_who_reads_slowly_does_not_keep_the_writer_from_clearing_up(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page([HostStarted(0.0)] * 1500), NOW)
    with Reader.open(path) as reader:
        lines = reader.lines(1)
        next(lines)
        write_much(journal, 1501)
        assert beside(path).stat().st_size < 2 * MOST_LEFT_BYTES
        assert sum(1 for _ in lines) == 1499  # as many as there were when it began


def test_what_grew_while_another_program_read_is_given_back(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page([HostStarted(0.0)]), NOW)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM records").fetchone()
    n = write_much(journal, 2)
    assert beside(path).stat().st_size > 1.5 * MOST_LEFT_BYTES
    other.execute("ROLLBACK")
    write_much(journal, n)
    assert beside(path).stat().st_size < 1.1 * MOST_LEFT_BYTES
    other.close()
