"""`numbertaker boards`: what is wired to each board, and settings that its firmware takes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.board_settings import PINS, DoesNotFitError, settings_of
from bridge.core.plant import Board, Detector, DetectorKind, Plant
from bridge.folder import load

from ..firmware_notes import chip as c

DEMO = Path(__file__).parents[2] / "demo" / "railway"
WITHY = Path(__file__).parents[1] / "endtoend" / "firmware"


def plant_of(folder: Path) -> Plant:
    railway = load(folder).railway
    assert railway is not None
    return railway.plant


def one_board(*detectors: Detector, link: str = "serial") -> Plant:
    return Plant("p", "P", 87.0, 1.0, {}, {}, {}, {}, {"b": Board("b", link)}, {d.id: d for d in detectors})


def track(n: int, **more: object) -> Detector:
    return Detector(f"t{n}", DetectorKind.TRACK, "b", n, covers="x.y", **more)  # type: ignore[arg-type]


def reader(n: int) -> Detector:
    return Detector(f"r{n}", DetectorKind.READER, "b", n, at="x.y@up")


def rest(n: int) -> Detector:
    return Detector(f"k{n}", DetectorKind.TOKEN_REST, "b", n, token="x-y", station="x")


def rows_of(settings: str) -> list[tuple[int, int, int]]:
    return [(int(a), int(b), int(c)) for a, b, c in re.findall(r"^ +INPUT\((\d+), (\d+), (\d)\)", settings, re.MULTILINE)]


def test_every_detector_stands_once_with_its_board(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["boards", str(DEMO)]) == 0
    out = capsys.readouterr().out
    blocks = dict(block.split("\n", 1) for block in out.rstrip("\n").split("\n\n"))
    assert next(iter(blocks)) == "lanternby: serial, 9 inputs"
    assert list(blocks)[-1] == "copperwhin: mqtt, 4 inputs"
    listed = {
        row.split()[1]: (title.split(":")[0], int(row.split()[0]))
        for title, rows in blocks.items()
        for row in rows.split("\n")
    }
    assert listed == {d.id: (d.board, d.input) for d in plant_of(DEMO).detectors.values()}
    assert re.search(r"^ +3 +pettymarsh-dairy +track +pettymarsh\.dairy +on: clear$", out, re.MULTILINE), (
        "its folder inverts it"
    )
    assert re.search(r"^ +6 +lanternby-end-reader +reader +lanternby-pettymarsh@lanternby +tells tags$", out, re.MULTILINE)


def test_the_same_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["boards", str(DEMO), "--json"]) == 0
    boards = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [(board["board"], board["link"], board["port"]) for board in boards][-2:] == [
        ("saltgander", "serial", None),
        ("copperwhin", "mqtt", None),
    ]
    assert boards[-2]["inputs"][-1] == {
        "input": 10,
        "detector": "saltgander-swing-bridge",
        "kind": "proof",
        "place": "featherlow-saltgander",
        "on": "proved",
    }
    assert {row["on"] for board in boards for row in board["inputs"] if row["kind"] == "reader"} == {None}


def test_settings_hold_every_input_with_its_detector(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["boards", str(WITHY), "--settings", "withy"]) == 0
    out = capsys.readouterr().out
    assert rows_of(out) == [(number, pin, 0) for number, pin in enumerate(PINS[:9], 1)]
    assert "INPUT(6, 7, 0) /* D7: elm-down-throat, track; on: clear */" in out
    assert "INPUT(9, 11, 0) /* D11: line-tail, treadle; on: a train's last vehicle passes */" in out
    assert '#define BOARD "withy"\n' in out
    assert "#define READER READER_SERIAL\n#define READER_INPUT 10\n#define READER_RESTS 0\n" in out


def test_a_token_rest_alone_is_a_reader_beside_one_a_contact() -> None:
    alone = settings_of(one_board(track(1), rest(2)), "b")
    assert "#define READER_INPUT 2\n#define READER_RESTS 1\n" in alone
    assert rows_of(alone) == [(1, 2, 0)]
    beside = settings_of(one_board(reader(1), rest(2)), "b")
    assert "#define READER_INPUT 1\n#define READER_RESTS 0\n" in beside
    assert rows_of(beside) == [(2, 2, 0)]
    assert rows_of(settings_of(one_board(rest(1), rest(2)), "b")) == [(1, 2, 0), (2, 3, 0)]


def test_a_board_with_more_than_the_firmware_takes_is_refused_with_the_remedy(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["boards", str(DEMO), "--settings", "saltgander"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "has 3 readers; this firmware takes one" in err
    assert "(saltgander-quay-reader, saltgander-icehouse-reader) a board of its own" in err
    assert len(rows_of(settings_of(one_board(*(track(n) for n in range(1, 18))), "b"))) == 17
    with pytest.raises(DoesNotFitError, match=r"has 18 inputs; this firmware takes 17\. Give t18 another board"):
        settings_of(one_board(*(track(n) for n in range(1, 19))), "b")
    with pytest.raises(DoesNotFitError, match=r"17 inputs beside its reader; this firmware takes 16\. Give t17 another"):
        settings_of(one_board(*(track(n) for n in range(1, 18)), reader(18)), "b")


def test_a_board_that_is_not_there_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["boards", str(DEMO), "--settings", "lanternb"]) == 2
    assert "has no board lanternb. The nearest is lanternby." in capsys.readouterr().err
    assert main(["boards", str(DEMO), "--settings", "zzz"]) == 2
    assert "There are: lanternby, pettymarsh" in capsys.readouterr().err


def test_a_folder_with_faults_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "railway.toml").write_text("[railway]\n")
    assert main(["boards", str(tmp_path)]) == 1
    assert "railway.toml" in capsys.readouterr().err


@pytest.mark.parametrize(
    "settings",
    [
        settings_of(plant_of(DEMO), "copperwhin"),  # the only board of the demonstration with no more than one reader
        settings_of(plant_of(WITHY), "withy"),
        settings_of(one_board(*(track(n) for n in range(1, 18))), "b"),
        settings_of(one_board(*(track(n, invert=True) for n in range(1, 17)), reader(4_294_967_295)), "b"),
        settings_of(one_board(), "b"),
        settings_of(one_board(rest(1), link="mqtt"), "b"),
    ],
)
def test_the_firmware_compiles_with_what_is_printed(need: Callable[[str], str], tmp_path: Path, settings: str) -> None:
    assert c.firmware(need, tmp_path, settings).stat().st_size > 5000


def test_the_boards_of_the_demonstration_that_fit_are_those() -> None:
    fitting = []
    for board in plant_of(DEMO).boards:
        try:
            settings_of(plant_of(DEMO), board)
        except DoesNotFitError:
            continue
        fitting.append(board)
    assert fitting == ["copperwhin"]
