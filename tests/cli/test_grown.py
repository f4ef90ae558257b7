"""`simulate --grow`: a railway of so many stations on demand, its folder beside the capture, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.folder import load
from bridge.wire.capture import CaptureFault, read_capture


def test_a_grown_railway_is_a_folder_beside_its_capture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    prefix = tmp_path / "a"
    assert main(["simulate", "--grow", "4", "--minutes", "3", "--seed", "5", "--out", str(prefix)]) == 0
    told = capsys.readouterr().out.split()
    assert told == [f"{prefix}-railway", f"{prefix}.capture", f"{prefix}.truth.json"]
    railway = load(f"{prefix}-railway").railway
    assert railway is not None
    assert len(railway.plant.stations) == 4
    records = list(read_capture(Path(f"{prefix}.capture").read_bytes().splitlines()))
    assert not any(isinstance(record, CaptureFault) for record in records)
    truth = json.loads(Path(f"{prefix}.truth.json").read_text())
    assert truth["end_t"] - truth["begin_t"] == pytest.approx(180.0, abs=0.01)
    assert set(truth["vehicles"]) == set(railway.stock)
    assert main(["replay", f"{prefix}-railway", f"{prefix}.capture"]) == 0


def test_the_folder_named_is_where_it_grows_and_never_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, prefix = tmp_path / "mine", str(tmp_path / "a")
    words = ["simulate", str(folder), "--grow", "3", "--minutes", "1", "--out", prefix]
    assert main(words) == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert main([*words, "--seed", "2"]) == 1
    assert "is there already" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert main(["simulate", str(folder), "--minutes", "1", "--out", str(tmp_path / "b")]) == 0
    assert (tmp_path / "b.capture").read_bytes() == (tmp_path / "a.capture").read_bytes()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["simulate"], "name the folder of a railway"),
        (["simulate", "--grow", "1"], "no number of stations"),
        (["simulate", "--grow", "lots"], "no number of stations"),
        (["simulate", "demo/railway", "--minutes", "0"], "no number of minutes"),
        (["simulate", "demo/railway", "--minutes", "nan"], "no number of minutes"),
    ],
)
def test_what_is_no_size_is_said(words: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        status = main(words)
    except SystemExit as ended:
        status = int(ended.code or 0)
    assert status == 2
    assert told in capsys.readouterr().err
