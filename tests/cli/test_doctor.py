"""`numbertaker doctor`: every part has its turn, for people and for programs; the exit status says whether all is well."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.broker_files import write_all

from ..waiting import free_port, wait_reachable


def told(capsys: pytest.CaptureFixture[str]) -> list[dict[str, str]]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_every_part_has_its_turn_and_a_fault_is_exit_1(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["doctor", str(folder), "--broker", f"127.0.0.1:{free_port()}", "--port", str(folder / "no-port")]
    assert main([*words, "--json"]) == 1
    rows = told(capsys)
    assert list(dict.fromkeys(row["part"] for row in rows)) == ["folder", "ports", "broker", "store", "clock"]
    assert all(set(row) == {"part", "level", "text", "remedy"} for row in rows)
    assert all(row["remedy"] for row in rows if row["level"] != "good")
    assert {row["part"] for row in rows if row["level"] == "fault"} == {"ports", "broker"}
    assert main(words) == 1
    out = capsys.readouterr().out
    assert re.findall(r"^(\w+)$", out, re.MULTILINE) == ["Folder", "Ports", "Broker", "Store", "Clock"]
    assert out.endswith("2 things to put right.\n")


def test_a_folder_with_faults_is_one_part_of_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "railway.toml").write_text("nonsense")
    assert main(["doctor", str(folder), "--no-serial", "--json"]) == 1
    rows = told(capsys)
    assert [row["part"] for row in rows if row["level"] == "fault"] == ["folder"]
    assert {row["part"] for row in rows} == {"folder", "clock"}


def test_without_a_folder_it_is_what_was_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["doctor", "--no-serial", "--json", "--store", str(tmp_path / "new.store")]) == 0
    assert {row["part"] for row in told(capsys)} == {"store", "clock"}


def test_no_folder_is_wrong_usage(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["doctor", str(tmp_path / "none")]) == 2
    assert "railway.toml" in capsys.readouterr().err


@pytest.mark.wires
def test_with_the_settings_that_are_written_nothing_is_wrong(
    folder: Path, need: Callable[[str], str], capsys: pytest.CaptureFixture[str]
) -> None:
    port = free_port()
    with (folder / "railway.toml").open("a") as file:
        file.write(f'\n[broker]\nhost = "127.0.0.1"\nport = {port}\nuser = "numbertaker"\n')
    here = ("127.0.0.1", port)
    written = write_all(folder, folder / "broker", railway="oxlip", user="numbertaker", wish=here, usual=here, is_new=False)
    command = [need("mosquitto"), "-c", str(written.out / "by-hand.conf")]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as broker:
        try:
            wait_reachable(port)
            assert main(["doctor", str(folder), "--no-serial", "--json"]) == 0
        finally:
            broker.kill()
    rows = told(capsys)
    assert [row["text"] for row in rows if row["part"] == "broker" and row["level"] != "good"] == []
    assert any("lets nobody in without a password" in row["text"] for row in rows)
    assert any("wait for a numbertaker that is away" in row["text"] for row in rows)
