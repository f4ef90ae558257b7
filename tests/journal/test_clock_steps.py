"""Where the time of day was set is kept once, with the line behind which it was noticed, and never changed."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlite_utils import Database

from bridge.journal import ClockStep, Journal, Moment, Page, Reader
from bridge.journal.schema import MIGRATIONS
from bridge.wire.records import HostStarted

from .conftest import EVERY_KIND, NOW

FORWARD = ClockStep(26.5, NOW.wall, NOW.wall + 3600)
FOUND = ClockStep(30.0, NOW.wall + 3600, 12.0, running=False)


def test_they_are_kept_behind_the_line_they_were_noticed_behind(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, [HostStarted(27.0)], steps=[FORWARD]), Moment(27.0, FORWARD.after))
    journal.append(Page(1, 17, steps=[FOUND]), Moment(30.0, 12.0))
    with Reader.open(path) as reader:
        assert reader.clock_steps(1) == ((15, FORWARD), (16, FOUND))
        assert reader.clock_steps(2) == ()
        assert [row.record for row in reader.records(1)] == [*EVERY_KIND, HostStarted(27.0)]


@pytest.mark.parametrize("statement", ["UPDATE clock_steps SET t = 9", "DELETE FROM clock_steps"])
def test_they_stay_as_they_are(journal: Journal, first_page, statement: str) -> None:
    journal.append(first_page(), NOW)
    journal.append(Page(1, 16, steps=[FORWARD]), NOW)
    with pytest.raises(sqlite3.IntegrityError, match="stays as it is"):
        journal._db.conn.execute(statement)


def as_first_released(path: Path) -> None:
    """A store as it was made before clock steps were kept."""
    db = Database(path)
    db.conn.execute("DROP TABLE clock_steps")
    db.conn.execute(f"DELETE FROM {MIGRATIONS.migrations_table} WHERE name = '2-clock-steps'")
    db.conn.commit()
    db.close()


def test_a_store_of_before_they_were_kept_is_read_and_brought_up_to_date(journal: Journal, path: Path, first_page) -> None:
    journal.append(first_page(), NOW)
    journal.close()
    as_first_released(path)
    with Reader.open(path) as reader:
        assert reader.clock_steps(1) == ()
        assert len(list(reader.records(1))) == len(EVERY_KIND)
    again = Journal(path, "example")
    again.append(Page(1, 16, steps=[FORWARD]), NOW)
    assert again.reader.clock_steps(1) == ((15, FORWARD),)
    assert len(list(again.reader.records(1))) == len(EVERY_KIND)
    again.close()
