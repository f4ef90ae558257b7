"""`numbertaker check`: findings with their places, an exit status, never a traceback."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.check import summary
from bridge.folder import Finding

EXAMPLE = Path(__file__).parents[1] / "folder" / "example"


@pytest.fixture
def folder(tmp_path):
    for path in EXAMPLE.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    return tmp_path


def change(folder, name, old, new):
    text = (folder / name).read_text()
    assert old in text
    (folder / name).write_text(text.replace(old, new))


def test_only_advice_is_success(folder, capsys):
    assert main(["check", str(folder)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("moves.csv:3:19  advice  ")
    assert out.endswith("0 faults, 0 conflicts, 1 advice. The folder is in order.\n")


def test_a_fault(folder, capsys):
    change(folder, "moves.csv", "w3,alder.dock", "w3,alder.dok")
    assert main(["check", str(folder)]) == 1
    out = capsys.readouterr().out
    assert (
        out.split("\n\n")[0]
        == 'moves.csv:4:4  fault  There is no road "alder.dok".\n    alder.dok\n    -> Did you mean "alder.dock"?'
    )
    assert "1 fault, 0 conflicts" in out


def test_a_conflict(folder, capsys):
    change(folder, "moves.csv", "w3,alder.dock", "w3,alder.loop")
    assert main(["check", str(folder)]) == 1
    assert "0 faults, 1 conflict, " in capsys.readouterr().out


def test_faults_go_before_conflicts_before_advice(folder, capsys):
    change(folder, "whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,1")
    change(folder, "timetable.csv", "19:20", "19h20m")
    main(["check", str(folder)])
    blocks = capsys.readouterr().out.split("\n\n")
    assert [block.split("  ")[1] for block in blocks[:-1]] == ["fault", "conflict", "advice"]


def test_for_programs(folder, capsys):
    change(folder, "moves.csv", "w3,alder.dock", "w3,alder.d\u00f6ck")
    assert main(["check", str(folder), "--json"]) == 1
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert all(list(row) == ["level", "file", "line", "column", "text", "message", "remedy"] for row in rows)
    fault = next(row for row in rows if row["level"] == "fault")
    assert (fault["file"], fault["line"], fault["column"], fault["text"]) == ("moves.csv", 4, 4, "alder.d\u00f6ck")


@pytest.mark.parametrize("what", ["missing", "a file"])
def test_no_folder_is_wrong_usage(folder, capsys, what):
    path = folder / ("nothing" if what == "missing" else "moves.csv")
    assert main(["check", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert str(path) in printed.err
    assert "railway.toml" in printed.err


def test_no_argument_is_wrong_usage():
    with pytest.raises(SystemExit) as stopped:
        main(["check"])
    assert stopped.value.code == 2


def test_help_has_an_example(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["check", "--help"])
    assert stopped.value.code == 0
    assert "numbertaker check my-railway" in capsys.readouterr().out


def test_an_empty_folder(tmp_path, capsys):
    assert main(["check", str(tmp_path)]) == 1
    assert capsys.readouterr().out.startswith("railway.toml:1:1  fault  There is no railway.toml in this folder.")


def test_a_terminal_that_lacks_a_letter(folder):
    change(folder, "moves.csv", "w3,alder.dock", "w3,alder.d\u00f6ck")
    command = [
        sys.executable,
        "-c",
        "import sys; from bridge.cli import main; sys.exit(main(sys.argv[1:]))",
        "check",
        str(folder),
    ]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={"PYTHONIOENCODING": "ascii"}, timeout=60
    )
    assert done.returncode == 1
    assert "alder.d?ck" in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_a_reader_that_has_had_enough_is_no_error(folder, words):
    change(folder, "moves.csv", "w3,alder.dock", "w3,alder.duck")
    command = "import sys; from bridge.cli import main; sys.exit(main(sys.argv[1:]))"
    check = [sys.executable, "-c", command, "check", str(folder), *words]
    reading = subprocess.Popen(check, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    reading.stdout.close()
    assert reading.stderr.read() == ""
    assert reading.wait(60) == 1


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        ("", "0 faults, 0 conflicts, 0 advice. The folder is in order."),
        ("fault conflict", "1 fault, 1 conflict, 0 advice. The folder cannot be taken until its faults are put right."),
        ("conflict conflict", "0 faults, 2 conflicts, 0 advice. The folder can be taken, and cannot be worked as written."),
    ],
)
def test_summary(levels, words):
    assert summary([Finding(level, "moves.csv", 1, 1, "", "m", "r") for level in levels.split()]) == words
