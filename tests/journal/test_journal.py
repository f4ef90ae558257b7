"""What is appended is what is read; what is no store of ours is refused in words; nothing is kept by halves."""

from __future__ import annotations

import dataclasses
import sqlite3
from pathlib import Path

import pytest
from sqlite_utils import Database

from bridge.core.events import Journalled
from bridge.journal import Journal, Moment, NotWrittenError, Opening, Page, Reader, StoreError
from bridge.journal.schema import APPLICATION_ID, MIGRATIONS
from bridge.wire.capture import read_capture
from bridge.wire.records import HostStarted, Said

from .conftest import EVERY_KIND, FOLDER, NOW


def test_every_kind_of_record_comes_back(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    with Reader.open(path) as reader:
        assert list(reader.records(1)) == [Journalled(n, record) for n, record in enumerate(EVERY_KIND, 1)]
        assert list(read_capture(reader.lines(1))) == list(EVERY_KIND)
        assert reader.folder(1) == FOLDER
        assert reader.railway == "example"
        assert reader.last_moment == NOW
        session = reader.sessions()[0]
        assert (session.id, session.began, session.after_end, session.lines) == (1, Moment(0.0, NOW.wall), False, 15)


def test_all_kinds_of_record_there_are_were_tried() -> None:
    from bridge.wire import records

    kinds = {kind for kind in vars(records).values() if dataclasses.is_dataclass(kind)}
    assert {type(record) for record in EVERY_KIND} == kinds


def test_commits_reach_the_disk_and_readers_need_not_wait(journal: Journal, path: Path) -> None:
    conn = journal._db.conn
    assert conn.execute("PRAGMA synchronous").fetchone()[0] == 2  # FULL: https://sqlite.org/pragma.html#pragma_synchronous
    assert conn.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    journal.append(Page(1, 1, [HostStarted(0.0)], opens=Opening(FOLDER, False)), NOW)
    with Reader.open(path) as reader:
        journal.append(Page(1, 2, [Said(1.0, None, "begin 19:00")]), NOW)
        assert reader.sessions()[0].lines == 2


def test_deadlines_stand_behind_the_line_they_follow(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    assert journal.reader.last_deadline(1) is None
    journal.append(Page(1, 16, deadlines=[(15, 31.0), (15, 31.25)]), Moment(31.3, NOW.wall + 6))
    assert journal.reader.deadlines(1) == ((15, 31.0), (15, 31.25))
    assert journal.reader.last_deadline(1) == 31.25
    assert journal.reader.last_moment == Moment(31.3, NOW.wall + 6)


def test_sessions_that_were_begun_are_known(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(2, 1, [HostStarted(30.0), Said(31.0, None, "explain i1 begin 3")], opens=Opening(FOLDER, True)), NOW)
    journal.append(Page(3, 1, [Said(32.0, "ann", "Begin 20:00")], opens=Opening(FOLDER, True)), NOW)
    assert journal.reader.begun() == (1, 3)
    assert [session.after_end for session in journal.reader.sessions()] == [False, True, True]


def test_what_operators_have_told_is_found_among_the_lines(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    told = [Said(31.0, None, "explain i1 it was  so"), Said(32.5, "ann", "stands w5 marrow.loop")]
    journal.append(Page(2, 1, [HostStarted(30.0), *told], opens=Opening(FOLDER, True)), NOW)
    assert journal.reader.said(2) == tuple(told)
    assert journal.reader.said(3) == ()


@pytest.mark.parametrize("statement", ["UPDATE records SET t = 9", "DELETE FROM records", "DELETE FROM folders"])
def test_what_is_written_stays(journal: Journal, first_page, statement: str) -> None:
    journal.append(first_page(), NOW)
    with pytest.raises(sqlite3.IntegrityError, match="stays as it is"):
        journal._db.conn.execute(statement)


def test_a_number_is_given_once(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    with pytest.raises(sqlite3.IntegrityError):
        journal.append(Page(1, 15, [HostStarted(26.0)]), NOW)
    assert journal.reader.sessions()[0].lines == 15


def test_a_full_disk_keeps_nothing_by_halves_and_can_be_tried_again(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    pages = journal._db.conn.execute("PRAGMA page_count").fetchone()[0]
    journal._db.conn.execute(f"PRAGMA max_page_count = {pages}")  # what SQLite says then is what it says of a full disk
    many = [Said(30.0 + n, None, "explain i1 " + "so it was " * 20) for n in range(500)]
    with pytest.raises(NotWrittenError, match="disk is full"):
        journal.append(Page(1, 16, many), Moment(99.0, NOW.wall))
    assert journal.reader.sessions()[0].lines == 15
    assert journal.reader.last_moment == NOW
    journal._db.conn.execute("PRAGMA max_page_count = 1073741823")
    journal.append(Page(1, 16, many), NOW)
    assert journal.reader.sessions()[0].lines == 515


def test_a_second_writer_is_refused_and_the_next_is_not(journal: Journal, path: Path) -> None:
    with pytest.raises(StoreError, match="Another Numbertaker is writing"):
        Journal(path, "example")
    journal.close()
    journal.close()
    again = Journal(path, "example")
    again.close()
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_another_railways_store_is_refused(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.close()
    with pytest.raises(StoreError, match="belongs to the railway example, not to other"):
        Journal(path, "other")
    Journal(path, "example").close()


def test_a_store_of_a_newer_version_is_refused(journal: Journal, path: Path) -> None:
    journal.close()
    db = Database(path)
    newer = {"migration_set": "numbertaker", "name": "9-points", "applied_at": "2031"}
    db.table(MIGRATIONS.migrations_table).insert(newer)
    db.close()
    for opening in (lambda: Journal(path, "example"), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match=r"made by a newer Numbertaker \(9-points\)"):
            opening()


def test_what_is_no_store_is_refused_and_left_as_it_was(path: Path) -> None:
    path.write_bytes(b"railway,notes\n" * 200)
    before = path.read_bytes()
    for opening in (lambda: Journal(path, "example"), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match="is no store of Numbertaker"):
            opening()
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_somebody_elses_database_is_refused_and_left_as_it_was(path: Path) -> None:
    db = Database(path)
    db.table("recipes").insert({"name": "porridge"})
    db.close()
    before = path.read_bytes()
    for opening in (lambda: Journal(path, "example"), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match="a database of something else"):
            opening()
    assert path.read_bytes() == before


def test_a_damaged_store_is_told_so(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page([Said(1.0 + n, None, "explain i1 " + "so it was " * 20) for n in range(500)]), NOW)
    journal.close()
    content = bytearray(path.read_bytes())
    content[20_000:40_000] = b"\x55" * 20_000
    path.write_bytes(bytes(content))
    with Reader.open(path) as reader, pytest.raises(StoreError, match="backup"):
        list(reader.records(1))


def test_no_store_no_folder_and_no_session_are_told(tmp_path: Path, path: Path) -> None:
    with pytest.raises(StoreError, match="There is no store"):
        Reader.open(path)
    with pytest.raises(StoreError, match="There is no folder"):
        Journal(tmp_path / "nowhere" / "evenings.store", "example")
    path.touch()
    with pytest.raises(StoreError, match="is empty"):
        Reader.open(path)
    Journal(path, "example").close()  # an empty file may become a store


def test_a_store_says_what_it_is(journal: Journal, path: Path) -> None:
    journal.close()
    header = path.read_bytes()[:100]
    assert header.startswith(b"SQLite format 3\0")
    assert int.from_bytes(header[68:72], "big") == APPLICATION_ID  # https://sqlite.org/fileformat.html, section 1.3
