"""What one session has learned of readers and tags starts the next: live, resumed, recounted, and replayed from a capture.

The line is the Bracken Shuttle of the recordings, each session that of `reader-weak-dead`: Mossend's reader reads nothing.
"""

from __future__ import annotations

import pickle
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from bridge.core.learned import LEARNED, Learned
from bridge.core.outcomes import Outcome
from bridge.folder import FolderRead, load
from bridge.journal import Moment, Reader
from bridge.journal.schema import MIGRATIONS
from bridge.service.core import CORE
from bridge.service.folding import Evening
from bridge.service.recounting import recount
from bridge.service.replaying import replay
from bridge.service.resuming import take_up
from bridge.wire.records import Record, Said

from ..recordings.said import records_of

RECORDINGS = Path(__file__).parents[1] / "recordings"
LIMIT = "moss-bracken@moss"


def records_at(first_t: float) -> list[Record]:
    """The session with the dead reader, ended, from host second `first_t` on."""
    records = records_of((RECORDINGS / "reader-weak-dead.capture").read_text(encoding="utf-8"))
    ended = [*records, Said(records[-1].t + 1.0, None, "end")]
    return [replace(record, t=round(record.t + first_t, 6)) for record in ended]


def twice() -> list[Record]:
    return [*records_at(0.0), *records_at(300.0)]


@pytest.fixture(scope="module")
def folder() -> FolderRead:
    return load(RECORDINGS / "shuttle")


def as_rows(said: Sequence[Outcome]) -> list[dict[str, Any]]:
    return [outcome.as_dict() for outcome in said]


def missed(evening: Evening) -> float:
    """How much Mossend's reader is taken to miss."""
    state: Any = evening._state
    return state.where.tracker.yard.quality.missed(LIMIT)


def stored(path: Path, folder: FolderRead, records: Sequence[Record], again_at: int | None = None) -> list[Outcome]:
    """Journal and fold records by the desk, as a live service does; it is started anew before the record `again_at`."""
    said: list[Outcome] = []
    for part in (records,) if again_at is None else (records[:again_at], records[again_at:]):
        resumed = take_up(path, folder, CORE, folder_again=lambda: folder, wall=lambda: 1000.0)
        page: list[Record] = []
        for record in part:
            page.append(record)
            if isinstance(record, Said) or record is part[-1]:
                said += [outcome for taken in resumed.desk.take(page) for outcome in taken.said]
                page = []
        resumed.desk.close()
    return said


def test_a_second_session_knows_of_a_dead_reader_from_the_start(folder: FolderRead) -> None:
    assert folder.railway is not None
    first = Evening(CORE, folder.railway)
    for record in records_at(0.0):
        list(first.follow(record))
    second, third = (Evening(CORE, folder.railway, True, known) for known in (first.learned(), None))
    for evening in (second, third):
        list(evening.follow(records_at(300.0)[0]))
    assert missed(second) > 0.9
    assert missed(third) < 0.2


def test_a_session_that_never_began_hands_on_what_it_was_given(folder: FolderRead) -> None:
    assert folder.railway is not None
    known = Learned({LIMIT: (0.0, 9.0)}, {})
    evening = Evening(CORE, folder.railway, True, known)
    list(evening.follow(records_at(0.0)[0]))
    assert evening.learned() == known


def test_live_recounted_and_replayed_say_the_same(folder: FolderRead, tmp_path: Path) -> None:
    assert folder.railway is not None
    path, records = tmp_path / "shuttle.store", twice()
    live = stored(path, folder, records, again_at=len(records) * 3 // 4)
    with Reader.open(path) as reader:
        sessions = reader.sessions()
        told = [outcome for session in sessions for outcome in recount(reader, session).outcomes]
        known = reader.learned(2)
        kept = [journalled.record for session in sessions for journalled in reader.records(session.id)]
        assert reader.learned(1) is None
    assert known is not None
    assert known.readers[LIMIT][0] == 0.0
    assert known.readers[LIMIT][1] > 2.0
    assert as_rows(told) == as_rows(live)
    assert as_rows(list(replay(folder.railway, kept))) == as_rows(live)


def test_the_capture_of_one_session_replays_as_it_was(folder: FolderRead, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "shuttle.store"
    stored(path, folder, twice())
    assert main(["capture", str(path), "2"]) == 0
    text = capsys.readouterr().out
    assert text.splitlines()[1].startswith(LEARNED)
    capture = tmp_path / "second.capture"
    capture.write_text(text, encoding="utf-8")
    assert main(["replay", str(RECORDINGS / "shuttle"), str(capture)]) == 0
    with_it = capsys.readouterr()
    assert with_it.err == ""
    assert main(["audit", str(path), "2", "--out", str(tmp_path / "papers")]) == 0
    capsys.readouterr()
    assert main(["replay", str(RECORDINGS / "shuttle"), str(tmp_path / "papers" / "session.capture")]) == 0
    assert capsys.readouterr().out == with_it.out
    capture.write_text("".join(line for line in text.splitlines(True) if not line.startswith(LEARNED)), encoding="utf-8")
    assert main(["replay", str(RECORDINGS / "shuttle"), str(capture)]) == 0
    assert capsys.readouterr().out != with_it.out


def test_what_is_known_and_cannot_be_read_is_told_and_the_rest_replayed(tmp_path: Path, capsys: Any) -> None:
    capture = tmp_path / "spoilt.capture"
    text = (RECORDINGS / "reader-weak-dead.capture").read_text(encoding="utf-8")
    capture.write_text(f"# an evening\n{LEARNED}nothing\n{text}", encoding="utf-8")
    assert main(["replay", str(RECORDINGS / "shuttle"), str(capture)]) == 0
    out, err = capsys.readouterr()
    assert "spoilt.capture:2: What earlier sessions have learned cannot be read" in err
    assert "Reader moss-limit" in out


def test_a_state_put_away_and_taken_up_again_knows_the_same(folder: FolderRead) -> None:
    assert folder.railway is not None
    first = Evening(CORE, folder.railway)
    for record in records_at(0.0):
        list(first.follow(record))
    again = pickle.loads(pickle.dumps(first._state))
    assert CORE.learned(again) == first.learned()


def test_a_store_of_before_opens_and_goes_on(folder: FolderRead, tmp_path: Path) -> None:
    path = tmp_path / "old.store"
    stored(path, folder, records_at(0.0))
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DROP TABLE learned")
        db.execute(f"DELETE FROM {MIGRATIONS.migrations_table} WHERE name = '4-learned'")
    with Reader.open(path) as reader:
        assert reader.learned(1) is None
    stored(path, folder, records_at(300.0))
    with Reader.open(path) as reader:
        assert reader.learned(2) is not None
        assert reader.last_moment == Moment(pytest.approx(reader.last_moment.t), 1000.0)  # type: ignore[union-attr]
