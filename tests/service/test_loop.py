"""The loop: append, fold, show, acknowledge; and what the live session said is what its capture says."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.folder import FolderRead
from bridge.journal import Reader
from bridge.service.core import CORE
from bridge.service.folding import FoldError
from bridge.service.replaying import replay
from bridge.service.showing import SHORTEST_PAUSE_S
from bridge.wire.capture import CaptureFault, format_record, read_capture
from bridge.wire.lines import Again, Ask
from bridge.wire.records import HostStarted, HostStopped, Received, Said

from .conftest import SIMPLE, Live, chance_lines, report

GoLive = Callable[..., Live]


def capture(store: Path, session: int = 1) -> list[str]:
    with Reader.open(store) as reader:
        return list(reader.lines(session))


def test_a_report_is_acknowledged_only_once_it_is_on_the_disk(go_live: GoLive, store: Path) -> None:
    live = go_live()
    kept: list[bool] = []
    done = threading.Event()

    def look() -> None:
        with Reader.open(store) as reader:  # a connection of its own sees only what is committed
            kept.append(any("report brake 7 1 " in line for line in reader.lines(1)))
        done.set()

    live.link.bring(report(1), done=look)
    assert done.wait(10)
    assert kept == [True]


def test_repeats_are_journalled_and_count_once(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.bring(report(1, "off"), report(1, "off"))
    live.bring(report(1, "off"), report(2, "off"))
    live.stop()
    assert [row["seq"] for row in live.said] == [1, 2]
    assert sum("report brake" in line for line in capture(store)) == 4


@pytest.mark.parametrize("seed", range(4))
def test_the_capture_says_what_the_live_session_said(go_live: GoLive, store: Path, railway: Railway, seed: int) -> None:
    live = go_live(CORE, pace=300.0)  # an evening in seconds: deadlines fall between lines, and behind them
    lines = chance_lines(railway, seed, 400)
    for place, record in enumerate(lines):
        if isinstance(record, Said):
            assert live.tell(record.words, record.who).accepted
        else:
            live.link.bring(replace(record, t=live.resumed.clock()))
        if place % 10 == 0:
            time.sleep(0.005)  # time itself is what passes here: 1.5 s of the session
    live.tell("end")
    live.stop()
    again = list(replay(railway, (r for r in read_capture(capture(store)) if not isinstance(r, CaptureFault))))
    assert [json.loads(json.dumps(outcome.as_dict())) for outcome in again] == live.said
    assert len(live.said) > 50
    assert live.log == []
    with Reader.open(store) as reader:
        behind = [after_n for after_n, _ in reader.deadlines(1)]
    assert len(behind) > 10  # the journal has deadlines between its lines, or nothing was proved
    assert len(set(behind)) > 5


def test_deadlines_pass_with_nothing_coming_in_at_their_own_time(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.bring(report(1))
    live.wait(lambda: live.said[-1:] and live.said[-1]["says"] == "woken")
    live.stop()
    with Reader.open(store) as reader:
        reported = next(row for row in reader.records(1) if isinstance(row.record, Received))
        assert reader.deadlines(1) == ((reported.n, round(reported.record.t + 1.0, 6)),)
        assert live.said[-1]["t"] == round(reported.record.t + 1.0, 6)


def test_a_line_stamped_before_a_deadline_that_has_passed_comes_after_it(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.bring(report(1))
    live.wait(lambda: live.said[-1:] and live.said[-1]["says"] == "woken")
    live.bring(report(2, "off", t=0.0))
    live.stop()
    times = [float(line.split()[0]) for line in capture(store)]
    assert times == sorted(times)
    assert live.said[-1]["t"] >= live.said[-2]["t"]


def test_an_operators_words_are_answered_once_they_are_folded(go_live: GoLive, store: Path) -> None:
    live = go_live()
    answer = live.tell("begin 19:00", "käthe")
    assert (answer.accepted, answer.text, answer.n) == (True, "heard begin 19:00", 2)
    assert capture(store)[1].partition(" ")[2] == "operator@käthe begin 19:00"


def test_words_that_a_capture_could_not_hold_are_journalled_as_it_can(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.tell(" explain i1\tit was\nlate ", "signal box")
    live.tell("explain i2 x", " ")
    live.stop()
    assert [line.partition(" ")[2] for line in capture(store)][1:3] == [
        "operator@signal-box explain i1 it was late",
        "operator explain i2 x",
    ]
    live_records = [format_record(row.record) for row in Reader.open(store).records(1)]
    assert live_records == capture(store)


def test_what_is_no_word_is_answered_and_not_journalled(go_live: GoLive, store: Path) -> None:
    live = go_live()
    answer = live.tell("abracadabra")
    assert (answer.accepted, answer.n) == (False, None)
    assert "abracadabra" in answer.text
    live.bring(Said(0.0, None, "hocus pocus"))  # by the broker
    live.stop()
    assert len(capture(store)) == 2  # started and stopped
    assert any("hocus pocus" in line for line in live.log)


def test_behind_an_end_the_next_session_begins(go_live: GoLive, store: Path, folder: FolderRead, railway: Railway) -> None:
    live = go_live()
    live.tell("begin 19:00")
    live.link.sent.clear()
    live.bring(Said(0.0, None, "end"), report(1, "off"))
    live.tell("begin 20:00")
    live.stop()
    assert [board for board, line in live.link.sent if line == Ask()][: len(railway.plant.boards)] == list(
        railway.plant.boards
    )
    assert [(row["n"], row["says"]) for row in live.said] == [
        (1, "session"),
        (2, "session"),
        (1, "observed"),
        (2, "session"),
    ]
    first, second = capture(store), capture(store, 2)
    assert [line.split(maxsplit=1)[1] for line in first] == ["host started", "operator begin 19:00", "operator end"]
    assert len(second) == 3
    again = replay(railway, (r for r in read_capture(first + second) if not isinstance(r, CaptureFault)), SIMPLE)
    assert [outcome.as_dict() for outcome in again][:-1] == live.said


def test_the_picture_of_the_end_stays_until_the_next_line(go_live: GoLive) -> None:
    live = go_live()
    is_over, is_next = threading.Event(), threading.Event()

    def look(shown) -> None:
        if shown.snapshot["seen"] == 1 and not shown.snapshot["running"]:
            is_over.set()
        if shown.snapshot["after_end"]:
            is_next.set()

    live.tell("begin 19:00")
    live.bring(report(1, "off"))
    live.service.subscribe(look)
    live.tell("end")
    assert is_over.wait(10)
    assert not is_next.is_set()
    live.bring(report(2, "off"))
    assert is_next.wait(10)


def test_the_folder_is_taken_again_for_the_next_session(go_live: GoLive, folder: FolderRead, store: Path) -> None:
    changed = replace(folder, texts={**folder.texts, "notes.txt": b"changed"})
    live = go_live(folder_again=lambda: changed)
    live.tell("begin 19:00")
    live.tell("end")
    live.stop()
    with Reader.open(store) as reader:
        assert reader.folder(1) == folder.texts
        assert reader.folder(2) == changed.texts
        assert [session.after_end for session in reader.sessions()] == [False, True]


def test_a_folder_with_faults_does_not_replace_the_one_in_force(go_live: GoLive, folder: FolderRead, store: Path) -> None:
    live = go_live(folder_again=lambda: replace(folder, railway=None, texts={}))
    live.tell("begin 19:00")
    live.tell("end")
    live.stop()
    with Reader.open(store) as reader:
        assert reader.folder(2) == folder.texts


def test_lost_numbers_are_asked_for_again(go_live: GoLive) -> None:
    live = go_live()
    live.bring(report(1, "off"))
    live.bring(report(4, "off"))
    live.stop()
    assert ("brake", Again(7, 2, 3)) in live.link.sent


def test_pictures_come_no_faster_than_agreed_and_the_newest_wins(go_live: GoLive) -> None:
    live = go_live()
    got: list[int] = []
    has_all = threading.Event()

    def look(shown) -> None:
        got.append(shown.version)
        if shown.snapshot["seen"] == 300:
            has_all.set()

    live.service.subscribe(look)
    began = time.monotonic()
    for seq in range(1, 301):
        live.bring(report(seq, "off"))
    assert has_all.wait(10)
    assert len(got) <= (time.monotonic() - began) / SHORTEST_PAUSE_S + 2
    shown = live.service.latest()
    assert len(shown.outcomes) == 200
    assert shown.outcomes[-1]["seq"] == 300
    assert shown.snapshot["troubles"] == []
    assert shown.snapshot["unkept"] is None


def test_troubles_are_said_once_and_shown(go_live: GoLive) -> None:
    live = go_live()
    told = threading.Event()
    live.service.subscribe(lambda shown: told.set() if shown.snapshot["troubles"] else None)
    live.link.trouble = ("Port x cannot be opened.",)
    assert told.wait(10)
    live.stop()
    assert live.log == ["Port x cannot be opened."]


def test_what_goes_wrong_outside_does_not_stop_the_loop(go_live: GoLive) -> None:
    def unwell() -> None:
        raise OSError("the broker is gone")

    live = go_live()
    live.service._showing._outlets.insert(0, lambda row: 1 / 0)
    live.link.send = unwell
    live.link.bring(report(1, "off"), done=unwell)
    live.bring(report(3, "off"))
    assert live.tell("begin 19:00").accepted
    live.stop()
    assert live.failure is None
    assert [row["says"] for row in live.said] == ["observed", "observed", "session"]
    assert any("broker is gone" in line for line in live.log)


def test_it_stops_in_order_and_in_time(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.bring(report(1, "off"))
    live.link.last_words = (report(2, "off"),)
    began = time.monotonic()
    live.stop()
    assert time.monotonic() - began < 2.0
    assert live.link.stopped.is_set()
    kinds = [type(row.record) for row in Reader.open(store).records(1)]
    assert kinds == [HostStarted, Received, Received, HostStopped]


def test_a_link_that_does_not_stop_is_left_behind(go_live: GoLive, store: Path) -> None:
    live = go_live()
    stuck = threading.Event()
    live.link.stop = lambda: stuck.wait(30)
    began = time.monotonic()
    live.stop()
    assert time.monotonic() - began < 2.0
    assert "host stopped" in capture(store)[-1]
    stuck.set()


def test_a_core_that_fails_stops_the_service_behind_the_journal(go_live: GoLive, store: Path) -> None:
    live = go_live()
    live.link.bring(report(1, "off"), Said(0.0, None, "fail"), report(2, "off"))
    live.thread.join(10)
    assert isinstance(live.failure, FoldError)
    assert "journal number 3" in str(live.failure)
    assert [line.split()[1] for line in capture(store)] == ["host", "serial-x", "operator", "serial-x"]
    assert live.link.stopped.wait(10)
    assert live.tell("begin 19:00").accepted is False


def test_who_told_what_failed_is_answered(go_live: GoLive) -> None:
    live = go_live()
    answer = live.tell("fail")
    assert (answer.accepted, answer.n) == (False, None)
    assert "ZeroDivisionError" in answer.text
