"""`simulate` writes a capture with its truth, and says plainly why where it cannot."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.wire.capture import CaptureFault, read_capture

DEMO = Path(__file__).parents[2] / "demo" / "railway"


def test_writes_capture_and_truth(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["simulate", str(DEMO), "--faults", "wrong-road,missed-reads", "--out", str(tmp_path / "a")]) == 0
    assert capsys.readouterr().out.split() == [str(tmp_path / "a.capture"), str(tmp_path / "a.truth.json")]
    records = list(read_capture((tmp_path / "a.capture").read_bytes().splitlines()))
    assert len(records) > 3000
    assert not any(isinstance(record, CaptureFault) for record in records)
    truth = json.loads((tmp_path / "a.truth.json").read_text())
    assert truth["mistakes"] == ["missed-reads", "wrong-road"]
    assert truth["expected"][0]["kind"] == "wrong-road"


def test_without_a_script_crews_work_the_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "railway"
    shutil.copytree(DEMO, folder)
    (folder / "evening.script").unlink()  # one that lies in the folder makes no difference
    assert main(["simulate", str(folder), "--out", str(tmp_path / "a")]) == 0
    assert main(["simulate", str(DEMO), "--out", str(tmp_path / "b")]) == 0
    assert "not as booked" not in capsys.readouterr().err
    assert (tmp_path / "a.capture").read_bytes() == (tmp_path / "b.capture").read_bytes()
    with (folder / "moves.csv").open("a") as moves:
        moves.write("w41,lanternby.coal,copperwhin.bin,,,,\n")
    assert main(["simulate", str(folder), "--out", str(tmp_path / "c")]) == 0
    told = capsys.readouterr().err
    assert "not as booked: w41: not brought from lanternby.coal to copperwhin.bin: no working calls at both" in told
    assert json.loads((tmp_path / "c.truth.json").read_text())["reasons"][0]["vehicle"] == "w41"


def test_a_script_is_told_its_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "railway"
    shutil.copytree(DEMO, folder)
    script = tmp_path / "mine.script"
    script.write_text("begin 18:00\ncrew e1\n runs to pettymarsh.lop\n")
    assert main(["simulate", str(folder), "--script", str(script)]) == 1
    assert f"{script}:3: " in capsys.readouterr().err
    script.write_text("begin 18:00\ncrew e1\n runs to pettymarsh.loop\n")
    assert main(["simulate", str(folder), "--script", str(script), "--out", str(tmp_path / "b")]) == 0
    assert "begin 18:00" in (tmp_path / "b.capture").read_text()


def test_what_cannot_be_had_is_said_without_a_trace(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["simulate", str(DEMO), "--broker", "127.0.0.1:9"]) == 1
    assert "broker 127.0.0.1:9" in capsys.readouterr().err
    assert main(["simulate", str(DEMO), "--out", str(tmp_path / "nowhere" / "x")]) == 1
    assert "cannot be written" in capsys.readouterr().err
    assert main(["simulate", str(tmp_path / "none")]) == 1
    assert "does not exist" in capsys.readouterr().err
