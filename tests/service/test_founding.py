"""The railway folder before a session: how it stands, with its own lines; looked at anew, made, and on into the session."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bridge.folder import FolderRead, load
from bridge.folder.making import Sketch
from bridge.service.founding import Founding

from ..folder.making.sketches import changed, small

RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


@pytest.fixture
def good() -> list[FolderRead]:
    """Folders with which a session could begin, as they were told."""
    return []


def founding(folder: Path, good: list[FolderRead]) -> Founding:
    return Founding(folder, load(folder), on_good=good.append)


@pytest.fixture
def faulty(tmp_path: Path) -> Path:
    folder = tmp_path / "oxlip"
    shutil.copytree(RAILWAY, folder)
    (folder / "stock.csv").write_bytes(b"vehicle,kind,length\r\nw1,balloon,104\r\n\xff,wagon,1\r\n")
    return folder


@pytest.mark.parametrize("is_there", [True, False])
def test_a_folder_with_nothing_in_it_is_empty(tmp_path: Path, good: list[FolderRead], is_there: bool) -> None:
    folder = tmp_path / "alder"
    if is_there:
        folder.mkdir()
    told = founding(folder, good).stands()
    assert told == {"state": "empty", "folder": str(folder), "in_the_way": [], "findings": [], "left_out": 0, "lacks": []}


def test_files_that_stand_in_the_way_are_named(tmp_path: Path, good: list[FolderRead]) -> None:
    (tmp_path / "moves.csv").write_text("mine")
    assert founding(tmp_path, good).stands()["in_the_way"] == ["moves.csv"]


def test_a_file_in_the_place_of_the_folder_is_a_fault(tmp_path: Path, good: list[FolderRead]) -> None:
    (tmp_path / "alder").write_text("mine")
    told = founding(tmp_path / "alder", good).stands()
    assert (told["state"], len(told["findings"])) == ("faults", 1)
    assert "is not a folder" in told["findings"][0]["message"]


def test_each_finding_comes_with_the_lines_of_its_file_the_faults_first(faulty: Path, good: list[FolderRead]) -> None:
    told = founding(faulty, good).stands()
    assert told["state"] == "faults"
    levels = [finding["level"] for finding in told["findings"]]
    assert levels == sorted(levels, key=["fault", "conflict", "advice"].index)
    balloon = next(finding for finding in told["findings"] if finding["text"] == "balloon")
    assert (balloon["file"], balloon["line"]) == ("stock.csv", 2)
    assert balloon["rows"] == [
        {"line": 1, "text": "vehicle,kind,length"},
        {"line": 2, "text": "w1,balloon,104"},
        {"line": 3, "text": "\N{REPLACEMENT CHARACTER},wagon,1"},
    ]
    assert "engine, wagon, brake, coach" in balloon["remedy"]


def test_of_very_many_findings_the_first_are_shown_and_the_others_counted(faulty: Path, good: list[FolderRead]) -> None:
    rows = "".join(f"w{n},balloon,104\n" for n in range(700))
    (faulty / "stock.csv").write_text(f"vehicle,kind,length\n{rows}", encoding="utf-8")
    ground = founding(faulty, good)
    told = ground.stands()
    assert {finding["level"] for finding in told["findings"]} == {"fault"}
    assert (len(told["findings"]), told["left_out"]) == (200, len(ground.read.findings) - 200)


def test_looking_again_goes_on_once_no_fault_is_left(faulty: Path, good: list[FolderRead]) -> None:
    ground = founding(faulty, good)
    assert (ground.look()["state"], good) == ("faults", [])
    shutil.copy(RAILWAY / "stock.csv", faulty)
    assert ground.stands()["state"] == "faults"  # nobody has looked yet
    assert ground.look()["state"] == "opening"
    ground.look()
    assert [read.railway is not None for read in good] == [True]


def test_a_sketch_is_tried_without_a_trace(tmp_path: Path, good: list[FolderRead]) -> None:
    ground = founding(tmp_path / "alder", good)
    tried = ground.attempt(Sketch.model_validate(small()))
    assert (tried["findings"], next(iter(tried["texts"]))) == ([], "railway.toml")
    wrong = ground.attempt(Sketch.model_validate(changed("name", "")))
    assert ([finding["field"] for finding in wrong["findings"]], wrong["texts"]) == (["name"], {})
    assert (list(tmp_path.iterdir()), good) == ([], [])


def test_what_check_says_of_a_sketch_comes_with_its_lines(tmp_path: Path, good: list[FolderRead]) -> None:
    tried = founding(tmp_path, good).attempt(Sketch.model_validate(changed("vehicles.1.at", None)))
    (finding,) = tried["check"]
    assert (finding["level"], finding["file"]) == ("advice", "whereabouts.csv")
    assert [row["text"] for row in finding["rows"]] == ["vehicle,road,order", "7,alder.platform,1"]


def test_a_sketch_is_made_and_the_session_may_begin(tmp_path: Path, good: list[FolderRead]) -> None:
    folder = tmp_path / "alder"
    ground = founding(folder, good)
    tried = ground.attempt(Sketch.model_validate(small()))
    answer = ground.make(Sketch.model_validate(small()))
    assert answer["accepted"] is True
    assert str(folder) in answer["text"]
    assert {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()} == tried["texts"]
    assert [read.railway.plant.id for read in good if read.railway] == ["alder-vale"]
    told = ground.stands()
    assert (told["state"], told["lacks"]) == ("opening", ["timetable.csv", "moves.csv"])
    again = ground.make(Sketch.model_validate(small()))
    assert (again["accepted"], len(good)) == (False, 1)


def test_a_sketch_that_is_wrong_is_not_made(tmp_path: Path, good: list[FolderRead]) -> None:
    answer = founding(tmp_path / "alder", good).make(Sketch.model_validate(changed("stations", [])))
    assert (answer["accepted"], list(tmp_path.iterdir()), good) == (False, [], [])
    assert "stations" in [finding["field"] for finding in answer["findings"]]


def test_what_has_come_into_the_folder_meanwhile_is_not_written_over(tmp_path: Path, good: list[FolderRead]) -> None:
    ground = founding(tmp_path, good)
    (tmp_path / "railway.toml").write_text("mine")
    answer = ground.make(Sketch.model_validate(small()))
    assert (answer["accepted"], good) == (False, [])
    assert "railway.toml already" in answer["text"]
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"]


def test_beside_a_session_the_folder_is_only_looked_at(faulty: Path, good: list[FolderRead]) -> None:
    ground = Founding(faulty, load(RAILWAY), in_session=True)
    assert (ground.stands()["state"], ground.stands()["lacks"]) == ("session", [])
    told = ground.look()
    assert told["state"] == "session"
    assert any(finding["level"] == "fault" for finding in told["findings"])
    assert ground.make(Sketch.model_validate(small()))["accepted"] is False
