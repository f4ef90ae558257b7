"""A store goes on where it was: state, numbers, seconds, folder; whether the last run was stopped or killed."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.folder import FolderRead
from bridge.journal import Reader, StoreError
from bridge.service.recounting import recount
from bridge.service.replaying import replay
from bridge.service.resuming import take_up
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.records import HostStarted, HostStopped

from .conftest import SIMPLE, Live, report

GoLive = Callable[..., Live]


def capture(store: Path, session: int = 1) -> list[str]:
    with Reader.open(store) as reader:
        return list(reader.lines(session))


def words(lines: list[str]) -> list[str]:
    return [line.split(maxsplit=1)[1] for line in lines]


def killed(store: Path, folder: FolderRead, *records, wall: float = 1000.0, running: bool = False) -> float:
    """What a killed run leaves behind: a journal without a stop. Its last time."""
    resumed = take_up(store, folder, SIMPLE, folder_again=lambda: folder, monotonic=lambda: 0.0, wall=lambda: wall)
    resumed.desk.take([HostStarted(resumed.clock())])
    resumed.desk.take(records)
    last_t = resumed.desk.last_t
    resumed.desk.close()
    return last_t


def test_a_stopped_session_goes_on(go_live: GoLive, store: Path, railway: Railway) -> None:
    live = go_live()
    live.tell("begin 19:00")
    live.bring(report(1, "off"))
    live.stop()
    again = go_live()
    assert again.resumed.desk.session == 1
    assert again.service.latest().outcomes[-1]["seq"] == 1
    again.bring(report(1, "off"), report(2, "off"))
    again.stop()
    assert [(row["n"], row.get("seq")) for row in again.said] == [(3, 2)]
    lines = capture(store)
    assert words(lines)[3:5] == ["host stopped", "host started"]
    said = replay(railway, (r for r in read_capture(lines) if not isinstance(r, CaptureFault)), SIMPLE)
    assert [outcome.as_dict() for outcome in said][:-1] == live.said + again.said
    with Reader.open(store) as reader:
        told_again = recount(reader, reader.sessions()[0], SIMPLE)
    assert [outcome.as_dict() for outcome in told_again.outcomes][:-1] == live.said + again.said
    assert len(told_again.records) == len(lines)


def test_seconds_go_on_by_the_time_of_day(store: Path, folder: FolderRead) -> None:
    last_t = killed(store, folder, report(1, "off", t=60.0), wall=1000.0)
    resumed = take_up(store, folder, SIMPLE, folder_again=lambda: folder, monotonic=lambda: 5.0, wall=lambda: 1030.0)
    assert last_t == 60.0
    assert resumed.clock() == 60.0  # the moment stored with it was second 0 at 1000, so the line's own time leads
    resumed.desk.close()
    later = take_up(store, folder, SIMPLE, folder_again=lambda: folder, monotonic=lambda: 5.0, wall=lambda: 1600.0)
    assert later.clock() == pytest.approx(630.0)  # the stop of the first attempt was journalled at 60, at 1030
    later.desk.close()


def test_a_kill_is_journalled_as_a_stop_at_the_last_line(store: Path, folder: FolderRead, go_live: GoLive) -> None:
    killed(store, folder, report(1, "off", t=0.5))
    live = go_live()
    live.stop()
    records = [row.record for row in Reader.open(store).records(1)]
    assert records[2] == HostStopped(0.5)
    assert isinstance(records[3], HostStarted)
    assert sum(isinstance(record, HostStopped) for record in records) == 2


def test_a_kill_is_journalled_as_a_stop_at_the_last_deadline(store: Path, folder: FolderRead, go_live: GoLive) -> None:
    first = take_up(store, folder, SIMPLE, folder_again=lambda: folder)
    first.desk.take([HostStarted(0.0), report(1, t=0.5)])
    first.desk.pass_deadline(1.5)
    first.desk.close()
    live = go_live()
    live.stop()
    records = [row.record for row in Reader.open(store).records(1)]
    assert records[2] == HostStopped(1.5)
    assert [outcome["says"] for outcome in live.service.latest().outcomes] == ["observed", "woken"]


def test_an_ended_session_is_left_behind(store: Path, folder: FolderRead, go_live: GoLive) -> None:
    from bridge.wire.records import Said

    killed(store, folder, Said(0.2, None, "begin 19:00"), Said(0.3, None, "end"))
    live = go_live()
    assert live.resumed.desk.session == 2
    live.stop()
    assert words(capture(store, 2)) == ["host stopped", "host started", "host stopped"]
    assert float(capture(store, 2)[0].split()[0]) == 0.3


def test_a_changed_folder_waits_while_a_session_runs(go_live: GoLive, folder: FolderRead, store: Path) -> None:
    live = go_live()
    live.tell("begin 19:00")
    live.stop()
    again = go_live(folder=replace(folder, texts={**folder.texts, "notes.txt": b"new"}))
    assert again.resumed.desk.session == 1
    again.stop()
    assert any("has changed" in line for line in again.log)
    assert any("has changed" in trouble for trouble in again.service.latest().snapshot["troubles"])


def test_a_changed_folder_is_taken_at_once_where_none_was_begun(go_live: GoLive, folder: FolderRead, store: Path) -> None:
    changed = replace(folder, texts={**folder.texts, "notes.txt": b"new"})
    go_live().stop()
    again = go_live(folder=changed)
    again.stop()
    assert again.log == []
    with Reader.open(store) as reader:
        assert reader.folder(2) == changed.texts
        assert [session.after_end for session in reader.sessions()] == [False, False]


def test_boards_known_before_are_asked_from_where_they_were(go_live: GoLive) -> None:
    from bridge.wire.lines import Again
    from bridge.wire.records import Opened

    live = go_live()
    live.bring(report(5, "off"))
    live.stop()
    again = go_live()
    again.bring(Opened(again.resumed.clock(), "serial-x"))
    again.stop()
    assert ("brake", Again(7, 6, 0)) in again.link.sent


def test_a_folder_that_can_no_longer_be_read_is_told(store: Path, folder: FolderRead) -> None:
    killed(store, replace(folder, texts={"railway.toml": b"[railway"}))
    with pytest.raises(StoreError, match="railway folder of session 1 can no longer be read"):
        take_up(store, folder, SIMPLE, folder_again=lambda: folder)
    take_up(store.with_name("other.store"), folder, SIMPLE, folder_again=lambda: folder).desk.close()


def test_refolding_takes_no_time_of_the_session(go_live: GoLive, store: Path, folder: FolderRead) -> None:
    killed(store, folder, *(report(seq, "off", t=0.001 * seq) for seq in range(1, 2001)))
    began = time.monotonic()
    live = go_live()
    assert time.monotonic() - began < 5.0
    assert len(live.service.latest().outcomes) == 200
    live.stop()
