"""The PIN is the same from evening to evening, its owner's alone to read, and only there where others reach the page."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from bridge.cli.pins import FILE, PinError, pin_code, pin_for, pin_line


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost"])
def test_where_only_this_machine_comes_there_is_none(tmp_path: Path, host: str) -> None:
    assert pin_for(host, None, tmp_path) is None
    assert pin_line(None) == ""
    assert list(tmp_path.iterdir()) == []


def test_it_is_made_once_and_stays(tmp_path: Path) -> None:
    first = pin_for("0.0.0.0", None, tmp_path)
    assert first is not None
    assert (len(first.code), first.code.isdigit()) == (6, True)
    assert (tmp_path / FILE).stat().st_mode & 0o777 == 0o600
    assert pin_for("192.168.4.20", None, tmp_path) == first
    assert f"the file {FILE} beside the journal" in first.where
    assert first.code not in first.where
    assert first.code in pin_line(first)


def test_another_store_has_another(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    codes = {pin.code for n in range(4) if (pin := pin_for("0.0.0.0", None, tmp_path / ("one", "two")[n % 2]))}
    assert len(codes) == 2  # once in a million they are the same


def test_one_that_was_asked_for_counts_and_is_not_written_down(tmp_path: Path) -> None:
    pin = pin_for("0.0.0.0", "1234", tmp_path)
    assert pin is not None
    assert (pin.code, list(tmp_path.iterdir())) == ("1234", [])


def test_one_that_was_shown_before_there_was_a_folder_stays(tmp_path: Path) -> None:
    shown = pin_for("0.0.0.0", None, tmp_path / "alder")
    assert shown is not None
    assert FILE not in shown.where  # it could not be written down yet
    (tmp_path / "alder").mkdir()
    kept = pin_for("0.0.0.0", None, tmp_path / "alder", shown.code)
    assert kept is not None
    assert (kept.code, (tmp_path / "alder" / FILE).read_text()) == (shown.code, f"{shown.code}\n")


def test_a_file_that_others_may_read_is_closed_to_them(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text("12345")
    (tmp_path / FILE).chmod(0o644)
    pin = pin_for("0.0.0.0", None, tmp_path)
    assert pin is not None and pin.code == "12345"
    assert (tmp_path / FILE).stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("content", ["", "one two", "123", "1" * 13, "12 34", "\xb2\xb3\xb9\xb2"])
def test_a_file_that_holds_none_is_told_and_left(tmp_path: Path, content: str) -> None:
    (tmp_path / FILE).write_text(content)
    with pytest.raises(PinError, match="holds no PIN: write 4 to 12 digits into it"):
        pin_for("0.0.0.0", None, tmp_path)
    assert (tmp_path / FILE).read_text() == content


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    (tmp_path / FILE).mkdir()
    with pytest.raises(PinError, match="cannot be read"):
        pin_for("0.0.0.0", None, tmp_path)


@pytest.mark.parametrize("text", ["123", "1" * 13, "abcd", "", "١٢٣٤"])
def test_on_the_command_line_too_a_pin_is_digits(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError):
        pin_code(text)
    assert pin_code("0042") == "0042"
