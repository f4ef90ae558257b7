"""What the commands are tested with: a railway folder and a capture of a few seconds on it."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from bridge.folder import load
from bridge.wire.capture import format_record
from bridge.wire.lines import Alive, Hello, State
from bridge.wire.records import HostStarted, Received, Record, Said

COMMAND = [sys.executable, "-c", "import sys; from bridge.cli import main; sys.exit(main())"]
RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of a railway folder, to be written in."""
    path = tmp_path / "oxlip"
    shutil.copytree(RAILWAY, path)
    return path


@pytest.fixture
def lines() -> list[str]:
    """A session of three seconds: boards say how their inputs stand, it begins, a board lives on, it ends."""
    railway = load(RAILWAY).railway
    assert railway is not None
    records: list[Record] = [HostStarted(0.0)]
    for board in railway.plant.boards:
        records.append(Received(0.1, f"serial-{board}", Hello(board, 3, 500, 16)))
        detectors = [detector for detector in railway.plant.detectors.values() if detector.board == board]
        records += [
            Received(0.1, f"serial-{board}", State(board, 3, seq, 500, detector.input, "off"))
            for seq, detector in enumerate(detectors, 1)
        ]
    records.append(Said(1.0, "käthe", "begin 19:00"))
    records.append(Received(2.0, f"serial-{board}", Alive(board, 3, len(detectors), 2500)))
    records.append(Said(3.0, None, "end"))
    return ["# three seconds\n", *(format_record(record) + "\n" for record in records)]


@pytest.fixture
def capture(tmp_path: Path, lines: list[str]) -> Path:
    path = tmp_path / "evening.capture"
    path.write_text("".join(lines), encoding="utf-8")
    return path
