"""The host sleeps, or the process is stopped: what came before is stale, no deadline passes, the picture comes back."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest

from bridge.folder import FolderRead
from bridge.journal import Reader
from bridge.service.recounting import recount
from bridge.service.sleep import Stood, elapsed_s, slept_s
from bridge.wire.capture import format_record
from bridge.wire.records import Received, Record

from .by_hand import Evening, Host

HOUR_S = 3600.0


def test_a_wait_that_lasts_as_it_was_to_is_none() -> None:
    host = Host()
    vigil = host.vigil()
    for waited_s in (0.0, 0.25, 0.3, 2.9):
        vigil.wait(0.25)
        host.elapsed_s += waited_s
        assert vigil.look() is None
        assert vigil.t == host.clock()
        host.elapsed_s += 60.0  # however long a turn takes: a disk may be slow


@pytest.mark.parametrize("in_the_wait", [True, False])
def test_a_sleep_is_seen_wherever_it_fell(in_the_wait: bool) -> None:
    host = Host()
    vigil = host.vigil()
    before_t = host.clock()
    if not in_the_wait:
        host.sleep(HOUR_S)
    vigil.wait(0.25)
    if in_the_wait:
        host.sleep(HOUR_S)
    host.elapsed_s += 0.25
    stood = vigil.look()
    assert stood == Stood(before_t, before_t + (HOUR_S + 0.25) / 2, before_t + HOUR_S + 0.25)
    vigil.wait(0.25)
    assert vigil.look() is None


def test_a_nap_of_a_second_is_none() -> None:
    host = Host()
    vigil = host.vigil()
    for _ in range(20):
        vigil.wait(0.25)
        host.sleep(1.0)
        assert vigil.look() is None


def test_a_process_that_was_stopped_in_a_wait_is_seen_on_every_system() -> None:
    host = Host()
    vigil = host.vigil()
    host.elapsed_s += 5.0  # a turn
    vigil.wait(0.0)
    began_t = host.clock()
    host.elapsed_s += 60.0
    assert vigil.look() == Stood(began_t, began_t + 30.0, began_t + 60.0)


def test_what_this_system_says_of_its_sleep() -> None:
    slept, elapsed = slept_s(), elapsed_s()
    assert slept >= 0
    assert slept_s() - slept < 0.1
    assert elapsed_s() >= elapsed
    assert elapsed == pytest.approx(time.monotonic() + slept, abs=1.0)  # on Linux and macOS by definition; elsewhere 0 slept


@pytest.fixture
def evening(store: Path, folder: FolderRead) -> Evening:
    made = Evening(store, folder)
    made.opened()
    made.then(0.5, *made.hello())
    made.then(0.5, *made.states())
    made.then(1.0, "begin 19:00")
    for _ in range(5):
        made.then(2.0, *made.alive())
    made.look()
    return made


def states_of(picture: dict[str, Any]) -> dict[str, str]:
    return {row["id"]: row["state"] for row in picture["detectors"]}


@pytest.mark.parametrize("first_heard", ["nothing", "alive"])
def test_a_lid_closed_for_an_hour(evening: Evening, store: Path, first_heard: str) -> None:
    evening.then(0.2, *(evening.alive() if first_heard == "alive" else ()), asleep_s=HOUR_S)
    evening.look()
    evening.then(1.5, *evening.alive())
    evening.look()
    evening.then(0.5, *evening.states())
    evening.then(3.0, *evening.alive())
    evening.look()
    evening.run()
    before, woken, alive, after = evening.shown
    assert set(states_of(before).values()) == {"occupied", "clear", "heard", "off"}
    assert set(states_of(woken).values()) == set(states_of(alive).values()) == {"unknown"}
    assert {row["why"] for row in woken["detectors"]} == {"not heard since the service started or this computer woke"}
    assert states_of(after) == states_of(before)
    assert [board["state"] for board in after["boards"]] == ["heard"] * 3
    assert [row for row in evening.said if row["says"] == "irregularity" and row["kind"] == "board-lost"] == []
    assert (
        woken["session"]["clock"] == before["session"]["clock"] == "19:00:40"
    )  # 10 s at four to one; in the sleep it stood
    assert {name for name, _ in evening.link.sent} == set(evening.plant.boards)  # asked anew
    assert "Nothing was heard for 3600 s" in evening.log[-1]


def test_what_came_before_a_sleep_is_not_taken_for_news_from_after_it(
    evening: Evening, store: Path, folder: FolderRead
) -> None:
    early = evening.alive()[0]

    def step() -> list[Record]:
        t = evening.clock()
        evening.host.sleep(HOUR_S)
        evening.host.go(0.1)
        return [Received(t, evening.wire(early.board), early), Received(evening.clock(), evening.wire(early.board), early)]

    evening.steps.append(step)
    evening.run()
    with Reader.open(store) as reader:
        lines = [format_record(row.record) for row in reader.records(1)]
        told_again = recount(reader, reader.sessions()[0])
    at = next(n for n, line in enumerate(lines) if line.endswith("host stopped"))
    assert "alive thistle" in lines[at - 1] and lines[at + 1].endswith("host started") and "alive thistle" in lines[at + 2]
    times = [float(line.split()[0]) for line in lines]
    assert times == sorted(times)
    assert times[at + 1] - times[at] == pytest.approx(HOUR_S + 0.1, abs=0.001)
    live = [row for row in evening.said if row["says"] != "whereabouts"]
    again = [row.as_dict() for row in told_again.outcomes if row.says != "whereabouts"]
    assert again[: len(live)] == live  # a replay says the same


def test_no_deadline_passes_in_a_sleep_or_before_the_boards_had_their_time(evening: Evening) -> None:
    evening.then(0.2, asleep_s=HOUR_S)
    evening.then(5.5)
    evening.then(0.2, *evening.alive())
    evening.then(5.0)
    evening.run()
    assert not [row for row in evening.said if row.get("kind") == "board-lost"]


def test_a_board_that_does_not_come_back_after_a_sleep_is_lost_in_its_time(evening: Evening) -> None:
    evening.then(0.2, asleep_s=HOUR_S)
    for _ in range(3):
        evening.then(2.1)
    evening.run()
    lost = [row for row in evening.said if row.get("kind") == "board-lost"]
    assert {row["board"] for row in lost} == set(evening.plant.boards)


def test_a_sleep_between_two_sessions_opens_none_that_says_anything(evening: Evening) -> None:
    evening.then(0.5, "end")
    evening.then(0.2, asleep_s=HOUR_S)
    evening.then(0.5, *evening.alive())
    evening.run()
    assert [row["state"] for row in evening.said if row["says"] == "session"] == ["started", "ended"]
    assert evening.said[-1]["says"] == "session"
