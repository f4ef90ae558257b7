"""Under which packet identifier a record came is kept with it, beside the capture and not in it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlite_utils import Database

from bridge.journal import Delivered, Journal, Moment, Page, Reader, back_up
from bridge.journal.schema import MIGRATIONS
from bridge.wire.records import Opened, Reading, Said

from .conftest import EVERY_KIND, NOW

MANY = 50_000
WORDS = [Said(26.0, None, "stop"), Reading(26.5, "mqtt", "shed", 4, "off"), Said(27.0, None, "go-on")]


def words_of(rows: tuple[Delivered, ...]) -> list[tuple[int, str, int]]:
    return [(row.packet, row.line, row.records_since) for row in rows]


def test_they_are_kept_with_the_record_in_one_step(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS, deliveries=[(16, 7), (17, 8)]), Moment(27.0, NOW.wall))
    with Reader.open(path) as reader:
        assert words_of(reader.deliveries(MANY)) == [(7, "operator stop", 2), (8, "mqtt !read shed 4 off", 1)]
        assert [row.record for row in reader.records(1)] == [*EVERY_KIND, *WORDS]
        assert len(list(reader.lines(1))) == len(EVERY_KIND) + len(WORDS)


def test_what_lies_too_far_back_is_not_told(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS, deliveries=[(16, 7), (17, 8)]), NOW)
    assert [row.packet for row in journal.reader.deliveries(2)] == [8]


def test_what_a_broker_that_has_forgotten_us_brought_before_is_not_told(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS, deliveries=[(16, 7), (17, 8)]), NOW)
    journal.append(Page(1, 19, [Opened(28.0, "mqtt"), Said(29.0, None, "stop")], deliveries=[(19, 0), (20, 1)]), NOW)
    assert words_of(journal.reader.deliveries(MANY)) == [(1, "operator stop", 0)]


def test_a_page_that_is_not_written_keeps_none(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    with pytest.raises(sqlite3.IntegrityError):
        journal.append(Page(1, 15, WORDS, deliveries=[(16, 7)]), NOW)
    assert journal.reader.deliveries(MANY) == ()


@pytest.mark.parametrize("statement", ["UPDATE deliveries SET packet = 9", "DELETE FROM deliveries"])
def test_they_stay_as_they_are(journal: Journal, first_page, statement: str) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS, deliveries=[(16, 7)]), NOW)
    with pytest.raises(sqlite3.IntegrityError, match="stays as it is"):
        journal._db.conn.execute(statement)


def test_a_backup_has_them(journal: Journal, path: Path, tmp_path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS, deliveries=[(16, 7)]), NOW)
    kept, there = back_up(path, tmp_path / "copy", lambda copy, store: (copy.deliveries(MANY), store.deliveries(MANY)))
    assert kept == there != ()


def test_the_last_lines_of_a_session(journal: Journal, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, WORDS), NOW)
    assert list(journal.reader.last_lines(1, 2)) == ["operator go-on", "mqtt !read shed 4 off"]
    assert list(journal.reader.last_lines(2, 2)) == []


def test_a_store_of_before_they_were_kept_is_read_and_brought_up_to_date(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.close()
    db = Database(path)
    db.conn.execute("DROP TABLE deliveries")
    db.conn.execute(f"DELETE FROM {MIGRATIONS.migrations_table} WHERE name = '3-deliveries'")
    db.conn.commit()
    db.close()
    with Reader.open(path) as reader:
        assert reader.deliveries(MANY) == ()
        assert len(list(reader.records(1))) == len(EVERY_KIND)
    again = Journal(path, "example")
    again.append(Page(1, 16, WORDS, deliveries=[(16, 7)]), NOW)
    assert [row.packet for row in again.reader.deliveries(MANY)] == [7]
    again.close()
