"""The unit is one that systemd takes, whatever the names of the folders in it; it starts what it is to start."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli import main, parser
from bridge.cli.unit import program, quoted, unit

from .conftest import COMMAND, RAILWAY

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="systemd is found on Linux only")
ODD = 'a "quoted" $HOME \\ 100%n of it, käthe\'s'
JUDGE = shutil.which("systemd-analyze")


def printed(*arguments: str) -> tuple[int, str, str]:
    done = subprocess.run([*COMMAND, "unit", *arguments], check=False, capture_output=True, text=True, timeout=30)
    return done.returncode, done.stdout, done.stderr


def values(text: str) -> dict[str, str]:
    return dict(line.split("=", 1) for line in text.splitlines() if "=" in line and not line.startswith("#"))


def verified(text: str, where: Path, systemd_analyze: str) -> str:
    """What systemd itself says against a unit; empty where it takes it."""
    path = where / "numbertaker.service"
    path.write_text(text, encoding="utf-8")
    done = subprocess.run([systemd_analyze, "verify", str(path)], check=False, capture_output=True, text=True, timeout=60)
    return done.stderr if done.returncode or str(path) in done.stderr else ""


def test_a_unit_for_this_folder_user_and_installation(folder: Path) -> None:
    status, text, _ = printed(str(folder))
    assert status == 0
    told = values(text)
    assert (told["Type"], told["WatchdogSec"], told["Restart"]) == ("notify", "30", "always")
    assert told["After"] == "network.target mosquitto.service"
    assert told["Description"] == "Numbertaker: The Oxlip Line"
    command = re.findall(r'"((?:[^"\\]|\\.)*)"', told["ExecStart"])
    assert command[-2:] == ["run", str(folder)]
    assert Path(command[0]).is_absolute() and Path(command[0]).is_file()
    assert told["ReadWritePaths"] == f'"{folder}"'
    assert "PrivateDevices" not in told and "ProtectClock" not in told  # systemd.exec(5): both restrict /dev


def test_what_it_starts_is_numbertaker(folder: Path) -> None:
    done = subprocess.run([*program(), "--version"], check=False, capture_output=True, text=True, timeout=30)
    assert done.stdout.startswith("numbertaker ")


def test_options_are_those_of_run_and_paths_whole(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder.parent)
    words = [
        "unit",
        "oxlip",
        "--store",
        "kept/e.store",
        "--listen",
        "[::1]:8700",
        "--broker",
        "pi.local",
        "--port",
        "/dev/ttyS0",
    ]
    arguments = parser().parse_args([*words, "--no-serial"])
    told = values(unit("Name", arguments, ["/usr/bin/numbertaker"], "ann", "dialout"))
    whole = folder.parent
    expected = [
        *("/usr/bin/numbertaker", "run", f"{whole}/oxlip", "--store", f"{whole}/kept/e.store", "--listen", "[::1]:8700"),
        *("--broker", "pi.local:1883", "--port", "/dev/ttyS0", "--no-serial"),
    ]
    assert told["ExecStart"] == " ".join(f'"{word}"' for word in expected)
    assert told["ReadWritePaths"] == f'"{whole}/oxlip" "{whole}/kept"'
    assert (told["User"], told["SupplementaryGroups"]) == ("ann", "dialout")
    again = parser().parse_args(expected[1:])
    assert (again.store, again.listen, again.broker) == (Path(expected[4]), ("::1", 8700), ("pi.local", 1883))


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("/home/ann/my railway", '"/home/ann/my railway"'),
        ("100%", '"100%%"'),
        ('the "dock"', '"the \\"dock\\""'),
        ("back\\slash", '"back\\\\slash"'),
        ("two\nlines", '"two\\nlines"'),
    ],
)
def test_words_are_quoted_as_systemd_reads_them(word: str, expected: str) -> None:
    """systemd.syntax(7), "Quoting"; systemd.unit(5), "Specifiers"."""
    assert quoted(word) == expected


@pytest.mark.parametrize("name", ["plain", "with blanks", ODD])
@pytest.mark.skipif(JUDGE is None, reason="the judge is systemd itself, which this computer has not")
def test_systemd_takes_it(tmp_path: Path, name: str) -> None:
    judge = str(JUDGE)
    home = tmp_path / name
    folder, script = home / "oxlip", home / "numbertaker"
    shutil.copytree(RAILWAY, folder)
    script.write_text("#!/bin/sh\n")
    script.chmod(0o755)
    arguments = parser().parse_args(["unit", str(folder), "--store", str(home / "evenings.store")])
    text = unit(f"The {name} line", arguments, [str(script)], "root", None)
    assert verified(text, tmp_path, judge) == ""
    assert verified(text.replace("WatchdogSec=30", "WatchdogSec=soon"), tmp_path, judge)  # it does judge
    script.unlink()
    if "env" not in values(text)["ExecStart"]:
        assert str(script) in verified(text, tmp_path, judge)  # the very path was looked for


def test_a_folder_with_faults_is_refused(folder: Path) -> None:
    (folder / "railway.toml").write_text("[railway")
    status, text, error = printed(str(folder))
    assert (status, text) == (1, "")
    assert "railway.toml" in error


def test_elsewhere_it_says_so(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "platform", "darwin")
    assert main(["unit", str(folder)]) == 1
    assert "systemd is found on Linux only" in capsys.readouterr().err
