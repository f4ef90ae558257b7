"""The notes on first wiring: the small railway does what they promise, its settings compile, and what is typed is a line."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.board_settings import settings_of
from bridge.folder import load
from bridge.wire.lines import Reject
from bridge.wire.parser import parse_line

from . import chip as c

NOTES = Path(__file__).resolve().parents[2] / "firmware_notes"
FOLDER = NOTES / "first-railway"


def test_the_move_of_the_notes_is_confirmed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(FOLDER)]) == 0
    assert "The folder is in order." in capsys.readouterr().out
    script = FOLDER / "evening.script"
    assert main(["simulate", str(FOLDER), "--script", str(script), "--out", str(tmp_path / "first")]) == 0
    capsys.readouterr()
    assert main(["replay", str(FOLDER), str(tmp_path / "first.capture"), "--json"]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    moves = [(row["vehicle"], row["to"], row["state"]) for row in rows if row["says"] == "move"]
    assert moves == [("w1", "alder.dock", "in-train"), ("w1", "alder.dock", "done")]
    assert [row["says"] for row in rows if row["says"] in ("set-out", "departed", "arrived")] == [
        "set-out",
        "departed",
        "arrived",
    ]
    assert [row for row in rows if row["says"] in ("irregularity", "corrected")] == []


def test_its_settings_are_those_of_the_notes(need: Callable[[str], str], tmp_path: Path) -> None:
    railway = load(FOLDER).railway
    assert railway is not None
    settings = settings_of(railway.plant, "alder")
    assert re.findall(r"INPUT\((\d), (\d), 0\) /\* D\d: ([a-z-]+)", settings) == [
        ("1", "2", "alder-dock"),
        ("2", "3", "alder-out"),
    ]
    assert "#define READER_INPUT 3\n" in settings
    assert c.firmware(need, tmp_path, settings).exists()


def test_every_line_in_the_notes_is_one() -> None:
    """What a person types from the notes has the right checksum, and so has what the notes say will come."""
    text = (NOTES / "first-wiring.md").read_text(encoding="utf-8")
    lines = re.findall(r"`([^`]*\*[0-9A-F]{2})`", text)
    assert len(lines) >= 5
    assert [line for line in lines if isinstance(parse_line(line.encode()), Reject)] == []


def test_the_sums_in_the_notes_come_out() -> None:
    """390 ohms is the E12 value (IEC 60063) next above 380; 17.241 ohm mm2/km is copper's at 20 degrees (IEC 60028)."""
    text = (NOTES / "first-wiring.md").read_text(encoding="utf-8")
    inside, outside, supply = 20_000.0, 4_700.0, 5.0
    both = inside * outside / (inside + outside)
    lamp = (supply - 1.2) / 390
    per_m = 17.241e-3 / 0.22
    for figure in (
        f"= {supply / inside * 1e3:.2f} to {supply / 50_000 * 1e3:.1f} mA; "
        f"with 4.7 kΩ more to 5 V: {supply / outside * 1e3:.1f} mA",
        f"together {both / 1e3:.1f} kΩ): {both * 0.3 / 0.7 / 1e3:.1f} kΩ",
        f"{0.7 * supply / inside * 1e3:.3f} mA; with 4.7 kΩ too ({both / 1e3:.1f} kΩ): {0.7 * supply / both * 1e3:.2f} mA",
        f"/ 10 mA = {(supply - 1.2) / 0.010:.0f} Ω: 390 Ω, {lamp * 1e3:.1f} mA",
        f"390 Ω = {lamp**2 * 390 * 1e3:.0f} mW",
        f"({per_m:.3f} Ω/m), 100 mA: {2 * 3 * per_m * 0.1 * 1e3:.0f} mV",
        f"closes the switch for {8 / 300 * 1e3:.0f} ms",
        f"{8e-3 / 8e-3:.0f} metre a second is the limit",
        f"{30 / 0.065 // 50 * 50:.0f} mm/s at most (30 mm / 65 ms)",
    ):
        assert figure in text, figure
