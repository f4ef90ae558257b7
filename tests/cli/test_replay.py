"""`numbertaker replay`: outcomes on stdout, what cannot be read on stderr with its line, and an exit status to rely on."""

from __future__ import annotations

import gzip
import io
import json
import subprocess
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.folder import load

from .conftest import COMMAND

REPLAY = [*COMMAND, "replay"]


def said(printed: str) -> list[dict]:
    return [json.loads(line) for line in printed.splitlines()]


def test_one_object_a_line(folder: Path, capture: Path, capsys) -> None:
    assert main(["replay", str(folder), str(capture), "--json"]) == 0
    out, err = capsys.readouterr()
    rows = said(out)
    assert err == ""
    assert [row["n"] for row in rows] == list(range(1, len(rows) + 1))
    assert (rows[-1]["says"], rows[-1]["state"]) == ("session", "ended")
    railway = load(folder).railway
    assert railway is not None
    closing = [row["vehicle"] for row in rows if row["says"] == "whereabouts" and row["t"] == 3.0]
    assert sorted(closing) == sorted(railway.stock)


def test_in_plain_words_with_the_clock(folder: Path, capture: Path, capsys) -> None:
    assert main(["replay", str(folder), str(capture)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "19:00:00  The session began" in lines
    assert lines[-1] == "19:00:08  The session ended"  # 2 s later, four railway minutes to a real one
    assert lines[0].startswith("--:--:--  ")


def test_from_standard_input_and_gzipped(folder: Path, capture: Path, capsysbinary, monkeypatch) -> None:
    main(["replay", str(folder), str(capture), "--json"])
    plain = capsysbinary.readouterr().out
    zipped = capture.with_suffix(".gz")
    zipped.write_bytes(gzip.compress(capture.read_bytes()))
    assert main(["replay", str(folder), str(zipped), "--json"]) == 0
    assert capsysbinary.readouterr().out == plain
    for content in (capture.read_bytes(), zipped.read_bytes()):
        given = subprocess.run([*REPLAY, str(folder), "-", "--json"], input=content, capture_output=True, check=True)
        assert given.stdout == plain


def test_lines_that_cannot_be_read_are_told_and_the_rest_goes_on(
    folder: Path, capture: Path, lines: list[str], capsys
) -> None:
    main(["replay", str(folder), str(capture), "--json"])
    whole = capsys.readouterr().out
    capture.write_text("".join([*lines[:3], "what is this\n", *lines[3:]]), encoding="utf-8")
    assert main(["replay", str(folder), str(capture), "--json"]) == 0
    out, err = capsys.readouterr()
    assert out == whole
    assert err.startswith(f"{capture}:4: ")
    assert len(err.splitlines()) == 1


def test_without_an_end_it_closes_at_the_last_line(folder: Path, capture: Path, lines: list[str], capsys) -> None:
    capture.write_text("".join(lines[:-1]), encoding="utf-8")
    assert main(["replay", str(folder), str(capture), "--json"]) == 0
    last = said(capsys.readouterr().out)[-1]
    assert (last["says"], last["t"]) == ("session", 2.0)


def test_a_folder_with_faults_is_refused_with_them(folder: Path, capture: Path, capsys) -> None:
    (folder / "railway.toml").write_text("[railway]\nid = 3\n", encoding="utf-8")
    assert main(["replay", str(folder), str(capture)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "railway.toml:2:" in err


@pytest.mark.parametrize("name", ["nowhere.capture", "."])
def test_a_capture_that_cannot_be_opened(folder: Path, tmp_path: Path, name: str, capsys) -> None:
    assert main(["replay", str(folder), str(tmp_path / name)]) == 1
    err = capsys.readouterr().err
    assert "cannot be read" in err
    assert "Traceback" not in err


def test_what_is_no_capture(folder: Path, tmp_path: Path, capsys) -> None:
    path = tmp_path / "picture.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    assert main(["replay", str(folder), str(path)]) == 1
    assert "is no capture" in capsys.readouterr().err


def test_a_broken_archive(folder: Path, capture: Path, capsys) -> None:
    path = capture.with_suffix(".gz")
    path.write_bytes(gzip.compress(capture.read_bytes())[:200])
    assert main(["replay", str(folder), str(path), "--json"]) == 1
    assert "cannot be read" in capsys.readouterr().err


def test_an_empty_capture_says_nothing(folder: Path, tmp_path: Path, capsys) -> None:
    path = tmp_path / "empty.capture"
    path.write_text("# nothing happened\n", encoding="utf-8")
    assert main(["replay", str(folder), str(path), "--json"]) == 0
    assert capsys.readouterr() == ("", "")


def test_a_reader_that_has_had_enough_is_no_error(folder: Path, capture: Path, lines: list[str]) -> None:
    capture.write_text(
        "".join(lines[:-1]) + "".join(f"{3 + n}.0 operator begin 19:00\n{3 + n}.5 operator end\n" for n in range(300))
    )
    with subprocess.Popen(
        [*REPLAY, str(folder), str(capture), "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait(30) == 0


def test_wrong_usage(capsys) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["replay"])
    assert ended.value.code == 2


def test_whatever_the_terminal_thinks_it_is_utf8(folder: Path, capture: Path) -> None:
    stock = folder / "stock.csv"
    header, first, *rest = stock.read_text(encoding="utf-8").splitlines()
    columns = header.split(",")
    row = first.split(",")
    row[columns.index("painted")] = "Nº 7 „Käthe“"
    stock.write_text("\n".join([header, ",".join(row), *rest]) + "\n", encoding="utf-8")
    environment = {"PYTHONIOENCODING": "ascii", "PATH": ""}
    done = subprocess.run([*REPLAY, str(folder), str(capture)], capture_output=True, env=environment, check=True)
    assert "Nº 7 „Käthe“" in io.TextIOWrapper(io.BytesIO(done.stdout), encoding="utf-8").read()
