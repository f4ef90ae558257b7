"""`numbertaker audit`: the papers of a session out of its store, and what is said when that cannot be."""

from __future__ import annotations

import csv
import json
import subprocess
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.folder import load
from bridge.journal import ClockStep, Journal, Moment, Opening, Page
from bridge.wire.capture import read_capture
from bridge.wire.records import HostStarted, Said

from .conftest import COMMAND

NOON = 1_795_608_000.0  # 2026-11-25 12:00 UTC: the same day at most places
PAPERS = {
    "report.html",
    "register.csv",
    "moves.csv",
    "whereabouts.csv",
    "session.capture",
    "session.xes",
    "session.ocel.json",
}


@pytest.fixture
def store(tmp_path: Path, folder: Path, lines: list[str]) -> Path:
    """Two sessions: one of three seconds, and one that was begun and never ended."""
    path = tmp_path / "oxlip.store"
    files = load(folder).texts
    journal = Journal(path, "oxlip")
    journal.append(Page(1, 1, list(read_capture(lines)), opens=Opening(files, False)), Moment(3.0, NOON))
    second = [HostStarted(10.0), Said(11.0, None, "begin 20:00"), Said(12.0, "<b>Käthe</b>", "stop-clock")]
    journal.append(Page(2, 1, second, opens=Opening(files, True)), Moment(12.0, NOON))
    journal.close()
    return path


def test_the_papers_of_the_last_session_stand_beside_the_store(store: Path, capsys) -> None:
    assert main(["audit", str(store)]) == 0
    out, err = capsys.readouterr()
    made = store.parent / "oxlip-session-2"
    assert err == ""
    assert {Path(line) for line in out.splitlines()} == {made / name for name in PAPERS} == set(made.iterdir())
    report = (made / "report.html").read_text(encoding="utf-8")
    assert "&lt;b&gt;Käthe&lt;/b&gt;" in report
    assert "It was not ended" in report


def test_a_session_by_number_in_a_folder_of_ones_own(store: Path, folder: Path, lines: list[str], tmp_path: Path) -> None:
    out = tmp_path / "some" / "where"
    assert main(["audit", str(store), "1", "--out", str(out)]) == 0
    assert "Account of the session of 2026-11-25" in (out / "report.html").read_text(encoding="utf-8")
    assert list(read_capture((out / "session.capture").open("rb"))) == list(read_capture(lines))
    railway = load(folder).railway
    assert railway is not None
    with (out / "whereabouts.csv").open(encoding="utf-8", newline="") as file:
        assert {row["vehicle"] for row in csv.DictReader(file)} == set(railway.stock)
    with (out / "moves.csv").open(encoding="utf-8", newline="") as file:
        assert [row["vehicle"] for row in csv.DictReader(file)] == [move.vehicle for move in railway.moves]
    events = json.loads((out / "session.ocel.json").read_text(encoding="utf-8"))["events"]
    assert all(event["time"].startswith("2026-11-25T19:00:") for event in events)


def test_the_register_says_what_a_replay_says(store: Path, folder: Path, capture: Path, tmp_path: Path, capsys) -> None:
    main(["replay", str(folder), str(capture), "--json"])
    said = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    main(["audit", str(store), "1", "--out", str(tmp_path / "papers")])
    with (tmp_path / "papers" / "register.csv").open(encoding="utf-8", newline="") as file:
        numbers = [int(row["number"]) for row in csv.DictReader(file) if row["number"]]
    assert numbers == [row["n"] for row in said if row["says"] not in {"observed", "may-go", "whereabouts"}]


def test_all_sessions_each_in_a_folder(store: Path, tmp_path: Path) -> None:
    assert main(["audit", str(store), "all", "--out", str(tmp_path / "papers")]) == 0
    assert {path.name for path in (tmp_path / "papers").iterdir()} == {"session-1", "session-2"}


def test_a_second_audit_says_the_same(store: Path) -> None:
    main(["audit", str(store)])
    made = store.parent / "oxlip-session-2"
    first = {path.name: path.read_bytes() for path in made.iterdir()}
    assert main(["audit", str(store)]) == 0
    assert {path.name: path.read_bytes() for path in made.iterdir()} == first


def test_its_hash_seed_and_language_change_nothing(store: Path, tmp_path: Path) -> None:
    for seed in ("1", "2"):
        environment = {"PYTHONHASHSEED": seed, "LC_ALL": "C", "PYTHONIOENCODING": "ascii"}
        subprocess.run([*COMMAND, "audit", str(store), "--out", str(tmp_path / seed)], env=environment, check=True)
    for path in (tmp_path / "1").iterdir():
        assert path.read_bytes() == (tmp_path / "2" / path.name).read_bytes()


def test_where_nothing_can_be_written(store: Path, tmp_path: Path, capsys) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    assert main(["audit", str(store), "--out", str(tmp_path / "taken" / "deep")]) == 1
    assert "cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize(("words", "why"), [(["7"], "no session 7"), (["0"], "no session 0")])
def test_a_session_that_is_not_there(store: Path, words: list[str], why: str, capsys) -> None:
    assert main(["audit", str(store), *words]) == 1
    assert why in capsys.readouterr().err


def test_a_store_that_is_none(tmp_path: Path, capsys) -> None:
    assert main(["audit", str(tmp_path / "nowhere.store")]) == 1
    assert capsys.readouterr().err.startswith("numbertaker audit: There is no store")


@pytest.mark.parametrize(
    ("steps", "day"),
    [
        pytest.param([], "2026-11-25", id="left alone"),
        pytest.param(
            [ClockStep(2.0, NOON, NOON + 86_400)], "2026-11-26", id="set a day on: so it had been wrong from the start"
        ),
        pytest.param([ClockStep(2.0, NOON, 50.0, running=False)], "2026-11-25", id="forgotten at a restart"),
        pytest.param(
            [ClockStep(2.0, NOON, 50.0, running=False), ClockStep(2.5, 50.5, NOON + 9 * 86_400)],
            "2026-11-25",
            id="forgotten at a restart, and told it later",
        ),
    ],
)
def test_the_day_is_that_of_the_clock_as_it_was_last_set(
    steps: list[ClockStep], day: str, tmp_path: Path, folder: Path, lines: list[str]
) -> None:
    path = tmp_path / "oxlip.store"
    journal = Journal(path, "oxlip")
    records = list(read_capture(lines))
    journal.append(Page(1, 1, records[:-1], opens=Opening(load(folder).texts, False)), Moment(2.0, NOON))
    journal.append(Page(1, len(records), records[-1:], steps=steps), Moment(3.0, NOON))
    journal.close()
    assert main(["audit", str(path), "--out", str(tmp_path / "papers")]) == 0
    page = (tmp_path / "papers" / "report.html").read_text(encoding="utf-8")
    assert f"Account of the session of {day}" in page
    assert page.count("The computer&#x27;s clock was") + page.count("The computer's clock was") == len(steps)
    if steps and steps[0].running:
        assert "set forward by 1 day, 0:00:00" in page
