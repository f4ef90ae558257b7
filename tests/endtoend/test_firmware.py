"""A session on a real board's firmware: pins moved by the virtual railway, its line to the real bridge, good or bad."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from bridge.cli.board_settings import PINS, settings_of
from bridge.folder import load
from bridge.journal import Reader
from bridge.virtual.live import Live
from bridge.virtual.staging import stage
from bridge.virtual.verdict import held_against
from bridge.wire.lines import Again, Alive, Report
from bridge.wire.records import Received, Rejected

from ..firmware_notes import chip as c
from .chip_board import BadCable, ChipBoard, Cut, whole
from .mishaps import LONGEST_S, Crew, LoneBridge, Row

pytestmark = [pytest.mark.wires, pytest.mark.timeout(180)]

FOLDER = Path(__file__).with_name("firmware")
BOARD = "withy"
SPEED = 4.0
NO_BROKER = "9"  # the discard port: nobody is there
PASSING = {"n", "t", "clock", "evidence", "happened", "late", "sure", "order"}
"""Keys that may differ where a report came later."""
KEYS = ("vehicle", "road", "state", "train")


def clock() -> float:
    return time.monotonic() * SPEED


@dataclass(frozen=True)
class Session:
    """What is left of one."""

    rows: list[Row]
    truth: dict[str, Any]
    board: ChipBoard
    cable: Cut
    store: Path


@pytest.fixture(scope="module")
def command(need: c.Need, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The chip with the firmware for the board of the folder, with the settings that `numbertaker boards` prints."""
    where = tmp_path_factory.mktemp("chip")
    railway = load(FOLDER).railway
    assert railway is not None
    elf = c.firmware(need, where, settings_of(railway.plant, BOARD))
    return [str(c.harness(need, where)), str(elf)]


def held(command: list[str], home: Path, cut: Cut) -> Session:
    """The whole session, from the board's hello to `end`."""
    railway = load(FOLDER).railway
    assert railway is not None
    evening = stage(railway, FOLDER / "evening.script").evening(1, [])
    (home / "ports").mkdir()
    chip = [*command, str(home / "eeprom"), "pty"]
    board = ChipBoard(chip, evening, BOARD, dict(enumerate(PINS[:9], 1)), home / "ports" / "board", cut)
    crew = Crew()
    over = threading.Event()
    live = Live(evening, [board], clock, speed=SPEED, on_words=crew.say, on_over=over.set)
    bridge = LoneBridge(*(str(word) for word in (FOLDER, home / "store", home / "ports", NO_BROKER, SPEED, time.time())))
    crew.face(bridge)
    thread = threading.Thread(target=live.run, daemon=True)
    thread.start()
    try:
        bridge.wait(lambda row: row["says"] == "move" and row["state"] == "done")  # the last that comes of a report
        assert over.wait(LONGEST_S)
        bridge.tell("end")
        bridge.wait(lambda row: row["says"] == "session" and row["state"] == "ended")
        rows = [json.loads(line) for line in bridge.lines]
    finally:
        crew.stop()
        live.stop()
        thread.join(10)
        bridge.kill()
    assert crew.refused == []
    assert not thread.is_alive()
    return Session(rows, json.loads(evening.truth_json()), board, cut, home / "store")


@pytest.fixture(scope="module")
def sessions(command: list[str], tmp_path_factory: pytest.TempPathFactory) -> list[Session]:
    """The same session twice at the same time: over a good cable, and over a bad one."""
    homes = [tmp_path_factory.mktemp("session") for _ in range(2)]
    with ThreadPoolExecutor() as pool:
        return list(pool.map(held, [command] * 2, homes, [whole, BadCable(1)]))


@pytest.fixture
def clean(sessions: list[Session]) -> Session:
    return sessions[0]


@pytest.fixture
def bad(sessions: list[Session]) -> Session:
    return sessions[1]


def confirmed(rows: list[Row]) -> list[dict[str, Any]]:
    """What was said and still stands, in order: the looks at single detectors and the places in between left out."""
    void = {row["of"] for row in rows if row["says"] == "corrected"}
    return [
        {key: value for key, value in row.items() if key not in PASSING}
        for row in rows
        if row["says"] not in ("observed", "whereabouts", "corrected", "may-go") and row["n"] not in void
    ]


def hashable(rows: list[Row]) -> list[dict[str, Any]]:
    return [{key: value for key, value in row.items() if isinstance(value, str)} for row in rows]


def places(rows: list[Row]) -> dict[str, str]:
    return {row["vehicle"]: row["place"] for row in rows if row["says"] == "whereabouts"}


@pytest.mark.parametrize("n", [0, 1])
def test_the_whole_session_is_confirmed_as_it_was(sessions: list[Session], n: int) -> None:
    session = sessions[n]
    said = [(row["says"], *(row[key] for key in KEYS if row.get(key))) for row in confirmed(session.rows)]
    assert said == [
        ("session", "started"),
        ("move", "w1", "in-train", "g1"),
        ("authority", "given", "g1"),
        ("departed", "ash.road", "g1"),
        ("entered", "g1"),
        ("arrived", "elm.road", "g1"),
        ("cleared", "g1"),
        ("authority", "returned", "g1"),
        ("set-out", "w1", "elm.siding", "g1"),
        ("move", "w1", "done", "g1"),
        ("session", "ended"),
    ]
    truth = session.truth["events"]
    assert [event["says"] for event in truth] == ["departed", "entered", "arrived", "cleared"]
    for event in truth:
        assert any(event.items() - {("t", event["t"])} <= row.items() for row in hashable(session.rows)), event
    verdict = held_against(session.truth, session.rows)
    assert (verdict.misplaced, verdict.besides, verdict.vehicles) == ({}, (), 4)


@pytest.mark.parametrize("n", [0, 1])
def test_the_firmware_reports_what_the_railway_did(sessions: list[Session], n: int) -> None:
    """The virtual board, which is another program, would have reported the same of each input, bouncing or not."""
    board = sessions[n].board
    first = {line.seq: line for line in reversed(board.lines) if isinstance(line, Report)}
    assert len(first) == len(board.usual) == 18
    for number in range(1, 11):
        usual = [line.value for line in board.usual if line.input == number]
        assert [first[seq].value for seq in sorted(first) if first[seq].input == number] == usual


def test_what_is_cut_on_the_way_comes_again(bad: Session, figure: Callable[[str], None]) -> None:
    cable, board = bad.cable, bad.board
    assert isinstance(cable, BadCable)
    asked = [line for line in board.asked if isinstance(line, Again)]
    assert all(any(ask.first <= seq <= (ask.last or seq) for ask in asked) for seq in cable.damaged)
    with Reader.open(bad.store) as reader:
        records = [row.record for row in reader.records(1)]
    journalled = [record.line for record in records if isinstance(record, Received) and isinstance(record.line, Report)]
    sent = {line.seq: line for line in board.lines if isinstance(line, Report)}
    assert {line.seq: line for line in journalled} == sent
    assert len(cable.damaged) >= 6
    assert any(isinstance(record, Rejected) for record in records), "some came mutilated, not only not at all"
    figure(
        f"firmware over a bad cable: {len(cable.damaged)} of {len(sent)} reports cut, all there after {len(asked)} `again`"
    )


def test_cut_or_not_it_is_the_same_register(clean: Session, bad: Session) -> None:
    assert confirmed(clean.rows) == confirmed(bad.rows)
    assert places(clean.rows) == places(bad.rows)
    for session in (clean, bad):
        assert [row for row in session.rows if row["says"] == "irregularity"] == []
        assert {dict(line.extra)["lost"] for line in session.board.lines if isinstance(line, Alive)} == {"0"}
