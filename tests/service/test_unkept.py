"""While the disk takes nothing the picture goes on and says so, and nothing is acknowledged; the store becomes what it would
have been."""

from __future__ import annotations

import json
import re
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.core.plan import Railway
from bridge.folder import FolderRead, load
from bridge.journal import Journal, Moment, NotWrittenError, Page, Reader, StoreError
from bridge.service import backlog, exchange
from bridge.service.desk import Desk
from bridge.service.folding import Evening
from bridge.service.loop import Service
from bridge.service.replaying import replay
from bridge.service.resuming import take_up
from bridge.wire.records import HostStarted, HostStopped, Record, Said

from ..waiting import wait_for
from .conftest import RAILWAY, SIMPLE, Live, report

GoLive = Callable[..., Live]
TABLES = ("sessions", "folders", "records", "deadlines", "store")


FULL = threading.Event()
"""While it is set the disk takes nothing."""


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    append = Journal.append

    def fickle(journal: Journal, page: Page, now: Moment) -> None:
        if FULL.is_set():
            raise NotWrittenError("database or disk is full", "the disk is full", "Make room.")
        append(journal, page, now)

    monkeypatch.setattr(Journal, "append", fickle)
    monkeypatch.setattr(backlog, "AGAIN_AFTER_S", 0.05)
    yield FULL
    FULL.clear()


def content(store: Path) -> dict[str, list[Any]]:
    """All that a store holds."""
    with sqlite3.connect(store) as conn:
        found = {table: conn.execute(f"SELECT * FROM {table}").fetchall() for table in TABLES}
    conn.close()
    return found


def unkept(live: Live) -> dict[str, Any] | None:
    return live.service.latest().snapshot["unkept"]


# What happens at the desk, one step a second: lines, words, a deadline that comes alone; and when the disk is full.
STEPS = st.lists(
    st.tuples(
        st.sampled_from(["on", "off", "several", "begin 19:00", "end", "nothing", "nothing"]),
        st.booleans(),
        st.booleans(),
    ),
    min_size=5,
    max_size=40,
)


def desk_of(store: Path, folder: FolderRead, now: Callable[[], Moment]) -> Desk:
    assert folder.railway is not None
    evening = Evening(SIMPLE, folder.railway)
    opened = Journal(store, folder.railway.plant.id)
    return Desk(opened, 1, evening, folder, core=SIMPLE, now=now, folder_again=lambda: folder)


def work(desk: Desk, steps: list[tuple[str, bool, bool]], clock: list[float], is_fickle: bool) -> list[dict[str, Any]]:
    """What is said while these steps are taken."""
    said: list[dict[str, Any]] = []
    for number, (what, is_full, tries) in enumerate(steps, 1):
        clock[0] = number + 0.25
        if is_fickle:
            FULL.set() if is_full else FULL.clear()
            if tries:
                desk.catch_up(at_once=True)
        records: list[Record] = []
        if what in ("on", "off"):
            records = [report(number, what, t=clock[0])]
        elif what == "several":
            records = [report(number, "on", t=clock[0] - 0.2), report(number + 1000, "off", t=clock[0])]
        elif what != "nothing":
            records = [Said(clock[0], "ann", what)]
        if records:
            said += [outcome.as_dict() for taken in desk.take(records) for outcome in taken.said]
        while (t := desk.evening.due_by(clock[0])) is not None:
            said += [outcome.as_dict() for outcome in desk.pass_deadline(t)]
    FULL.clear()
    desk.catch_up(at_once=True)
    assert desk.unkept is None
    desk.close()
    return said


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_the_store_is_the_one_that_it_would_have_been(
    steps: list[tuple[str, bool, bool]], tmp_path_factory: Any, full_disk: threading.Event
) -> None:
    place, folder = tmp_path_factory.mktemp("stores"), load(RAILWAY)
    said = []
    for name in ("sound", "fickle"):
        clock = [0.0]
        desk = desk_of(place / name, folder, lambda clock=clock: Moment(clock[0], 1_000.0 + clock[0]))
        desk.take([HostStarted(0.0)])
        said.append(work(desk, steps, clock, is_fickle=name == "fickle"))
    assert content(place / "fickle") == content(place / "sound")
    assert said[0] == said[1]
    with Reader.open(place / "fickle") as reader:
        records = [row.record for session in reader.sessions() for row in reader.records(session.id)]
    assert folder.railway is not None
    again = [outcome.as_dict() for outcome in replay(folder.railway, records, SIMPLE) if outcome.says != "closed"]
    assert said[0][: len(again)] == again
    assert {row["says"] for row in said[0][len(again) :]} <= {"woken"}  # behind the last line


def test_the_picture_goes_on_and_nothing_is_acknowledged(
    go_live: GoLive, store: Path, full_disk: threading.Event, railway: Railway
) -> None:
    live = go_live()
    live.tell("begin 19:00")
    before = len(content(store)["records"])
    full_disk.set()
    done = threading.Event()
    live.link.bring(report(1), done=done.set)
    live.wait(lambda: [row["says"] for row in live.said] == ["session", "observed", "woken"])  # deadlines too
    wait_for(lambda: unkept(live) is not None)
    told = unkept(live)
    assert told is not None
    assert (told["why"], told["do"], told["goes_on"]) == ("the disk is full", "Make room.", True)
    assert re.fullmatch(r"\d\d:\d\d", told["since"])
    assert not done.is_set()
    assert len(content(store)["records"]) == before
    answer = live.tell("explain i1 late")
    assert (answer.accepted, answer.n, answer.text) == (True, 4, "Noted, but not on the disk yet. heard explain i1 late")
    full_disk.clear()
    assert done.wait(10)
    wait_for(lambda: unkept(live) is None)
    live.stop()
    with Reader.open(store) as reader:
        rows = list(reader.records(1))
        assert reader.deadlines(1) == ((3, round(rows[2].record.t + 1.0, 6)),)
    said = [json.loads(json.dumps(outcome.as_dict())) for outcome in replay(railway, (row.record for row in rows), SIMPLE)]
    assert said[:-1] == live.said
    assert live.log[0] == f"Not kept since {told['since']}: the disk is full. The picture goes on. Make room."
    assert len(live.log) == 2
    assert live.log[1].startswith("The disk takes the journal again")


def test_sessions_end_and_begin_while_the_disk_is_full(
    go_live: GoLive, store: Path, full_disk: threading.Event, folder: FolderRead
) -> None:
    live = go_live()
    live.tell("begin 19:00")
    full_disk.set()
    for words in ("end", "begin 20:00", "end", "begin 21:00"):
        assert live.tell(words).accepted
    assert len(content(store)["sessions"]) == 1
    full_disk.clear()
    wait_for(lambda: unkept(live) is None and live.service._desk.unkept is None)
    live.stop()
    with Reader.open(store) as reader:
        assert [session.after_end for session in reader.sessions()] == [False, True, True]
        assert all(reader.folder(session.id) == folder.texts for session in reader.sessions())
        words = [[row.record.words for row in reader.records(n) if isinstance(row.record, Said)] for n in (1, 2, 3)]
    assert words == [["begin 19:00", "end"], ["begin 20:00", "end"], ["begin 21:00"]]


def test_it_stops_in_time_and_what_was_not_acknowledged_counts_once_when_it_comes_again(
    go_live: GoLive, full_disk: threading.Event, store: Path, railway: Railway
) -> None:
    live = go_live()
    live.bring(report(1, "off"))
    full_disk.set()
    done = threading.Event()
    live.link.bring(report(2, "off"), done=done.set)
    live.wait(lambda: len(live.said) == 2)
    began = time.monotonic()
    live.stop()
    assert time.monotonic() - began < 2.0
    assert live.failure is None
    assert not done.is_set()
    assert any(line.startswith("Stopped while the disk is full; lines that are not kept: 2.") for line in live.log)
    full_disk.clear()
    again = go_live()
    again.bring(report(2, "off"))  # the broker's, as nobody acknowledged it
    again.stop()
    with Reader.open(store) as reader:
        records = [row.record for row in reader.records(1)]
    assert [type(record) for record in records].count(HostStopped) == 2
    said = [outcome.as_dict() for outcome in replay(railway, records, SIMPLE)]
    assert [row["seq"] for row in said[:-1]] == [1, 2]
    assert said[1:-1] == again.said


def test_a_disk_that_is_full_from_the_start_is_refused(
    store: Path, folder: FolderRead, full_disk: threading.Event, go_live: GoLive
) -> None:
    go_live().stop()
    resumed = take_up(store, folder, SIMPLE, folder_again=lambda: folder)
    service = Service(resumed, [], SIMPLE, log=lambda text: None)
    full_disk.set()
    with pytest.raises(NotWrittenError, match="disk is full"):
        service.run()


def test_a_killed_session_waits_for_a_disk_with_room(store: Path, folder: FolderRead, full_disk: threading.Event) -> None:
    resumed = take_up(store, folder, SIMPLE, folder_again=lambda: folder)
    resumed.desk.take([HostStarted(0.0)])
    resumed.desk.close()
    full_disk.set()
    with pytest.raises(StoreError, match="The journal cannot be written: database or disk is full"):
        take_up(store, folder, SIMPLE, folder_again=lambda: folder)


@pytest.mark.parametrize("bound", ["records", "acknowledgements"])
def test_too_much_that_is_not_kept_holds_links_back_and_is_said(
    go_live: GoLive, store: Path, full_disk: threading.Event, monkeypatch: pytest.MonkeyPatch, bound: str
) -> None:
    monkeypatch.setattr(*((backlog, "MOST_UNKEPT") if bound == "records" else (exchange, "MOST_UNACKNOWLEDGED")), 3)
    live = go_live()
    full_disk.set()
    acknowledged: list[int] = []
    for seq in range(1, 4):
        live.link.bring(report(seq, "off"), done=lambda seq=seq: acknowledged.append(seq))
    wait_for(lambda: (unkept(live) or {}).get("goes_on") is False)
    live.link.bring(report(4, "off"), done=lambda: acknowledged.append(4))
    answer = live.tell("begin 19:00")
    assert (answer.accepted, answer.n) == (False, None)
    assert "too much waits for the disk" in answer.text
    assert len(live.said) == 3
    assert any("The picture stands still." in line for line in live.log)
    full_disk.clear()
    wait_for(lambda: len(acknowledged) == 4)
    assert acknowledged == [1, 2, 3, 4]
    assert live.tell("begin 19:00").accepted
    live.stop()
    assert [row.get("seq") for row in live.said] == [1, 2, 3, 4, None]


def test_a_long_backlog_is_written_in_few_commits(store: Path, folder: FolderRead, full_disk: threading.Event) -> None:
    now = Moment(0.0, 1_000.0)
    desk = desk_of(store, folder, lambda: now)
    desk.take([HostStarted(0.0)])
    full_disk.set()
    for seq in range(1, 6_001):
        desk.take([report(seq, "off", t=0.001 * seq)])
    assert desk.unkept is not None
    assert desk.unkept.records == 6_000
    commits: list[int] = []
    full_disk.clear()
    desk._backlog._journal._db.conn.set_trace_callback(lambda sql: commits.append(1) if sql == "COMMIT" else None)
    desk.catch_up(at_once=True)
    assert len(commits) <= 5
    desk.close()
    assert [row[1] for row in content(store)["records"]] == list(range(1, 6_002))
