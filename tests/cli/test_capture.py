"""`numbertaker capture`: the journal as text, which reads back as what was journalled."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.journal import Journal, Moment, Opening, Page
from bridge.wire.capture import read_capture
from bridge.wire.records import HostStarted, HostStopped, Said

from .conftest import COMMAND

FIRST = [HostStarted(0.0), Said(1.0, "käthe", "begin 19:00"), Said(2.0, None, "end")]
SECOND = [HostStopped(3.0), HostStarted(10.0), Said(11.0, None, "explain i1 begin again")]
NOW = Moment(11.0, 1_795_612_800.0)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "oxlip.store"
    journal = Journal(path, "oxlip")
    journal.append(Page(1, 1, FIRST, opens=Opening({}, False)), NOW)
    journal.append(Page(2, 1, SECOND, opens=Opening({}, True)), NOW)
    journal.close()
    return path


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        pytest.param([], FIRST, id="the last that was begun"),
        pytest.param(["1"], FIRST, id="by number"),
        pytest.param(["2"], SECOND, id="another"),
        pytest.param(["all"], FIRST + SECOND, id="all"),
    ],
)
def test_it_prints_the_session_that_is_meant(store: Path, words: list[str], expected: list, capsys) -> None:
    assert main(["capture", str(store), *words]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert list(read_capture(out.splitlines())) == expected
    assert out.startswith(f"# oxlip, session {'2' if expected is SECOND else '1'}, opened 2026-11-25 ")


def test_also_while_a_service_writes(store: Path, capsys) -> None:
    journal = Journal(store, "oxlip")
    assert main(["capture", str(store), "1"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1 + len(FIRST)
    journal.close()


@pytest.mark.parametrize(("words", "why"), [(["3"], "no session 3 in this store; it has 1 to 2"), (["0"], "no session 0")])
def test_a_session_that_is_not_there(store: Path, words: list[str], why: str, capsys) -> None:
    assert main(["capture", str(store), *words]) == 1
    assert why in capsys.readouterr().err


def test_a_store_that_is_none(tmp_path: Path, capsys) -> None:
    assert main(["capture", str(tmp_path / "nowhere.store")]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("numbertaker capture: There is no store")


def test_a_word_that_is_no_session(store: Path, capsys) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["capture", str(store), "last"])
    assert ended.value.code == 2
    assert 'neither the number of a session nor "all"' in capsys.readouterr().err


def test_a_capture_is_utf8(store: Path) -> None:
    command = [*COMMAND, "capture", str(store)]
    done = subprocess.run(command, capture_output=True, env={"PYTHONIOENCODING": "ascii"}, check=True)
    assert "operator@käthe" in done.stdout.decode("utf-8")
