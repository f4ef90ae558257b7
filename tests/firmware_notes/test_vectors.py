"""The lines for people who program a board: the host judges each as the file says."""

from __future__ import annotations

import re
from pathlib import Path

import pynmea2
import pytest

from bridge.wire.encode import encode
from bridge.wire.lines import Reject, RejectReason
from bridge.wire.parser import parse_line

FILE = Path(__file__).resolve().parents[2] / "firmware_notes" / "vectors.txt"


def rows(word: str) -> list[str]:
    lines = FILE.read_text(encoding="ascii").splitlines()
    return [line.removeprefix(f"{word} ") for line in lines if line.startswith(f"{word} ")]


def raw(shown: str) -> bytes:
    return re.sub(rb"\\x([0-9A-F]{2})", lambda found: bytes([int(found[1], 16)]), shown.encode("ascii"))


def test_every_row_says_what_it_is() -> None:
    for line in FILE.read_text(encoding="ascii").splitlines():
        assert re.match(r"#|$|(good|read|bad [a-z-]+) ", line), line


@pytest.mark.parametrize("line", rows("good"))
def test_a_good_line_is_read_and_written_the_same(line: str) -> None:
    read = parse_line(raw(line))
    assert not isinstance(read, Reject)
    assert encode(read) == raw(line) + b"\n"


@pytest.mark.parametrize("line", rows("good"))
def test_its_checksum_is_that_of_nmea_0183(line: str) -> None:
    """pynmea2, an independent reader of NMEA 0183, forms the same sum over the same bytes."""
    body, _, sum_ = line.rpartition("*")
    assert pynmea2.NMEASentence.checksum(body) == int(sum_, 16)


@pytest.mark.parametrize("line", rows("read"))
def test_a_line_written_otherwise_is_read_as_the_same(line: str) -> None:
    read = parse_line(raw(line))
    assert not isinstance(read, Reject)
    assert encode(read).upper().rstrip(b"\n") == raw(line).upper().rstrip(b"\r")


@pytest.mark.parametrize("line", rows("bad"))
def test_a_bad_line_is_rejected_for_the_reason_given(line: str) -> None:
    reason, _, shown = line.partition(" ")
    assert parse_line(raw(shown)) == Reject(RejectReason(reason), raw(shown))


def test_the_vectors_show_every_word_and_every_reason_of_a_line() -> None:
    words = {line.partition(" ")[0].partition("*")[0] for line in rows("good")}
    assert words == {"hello", "alive", "report", "state", "edge", "ask", "again", "watch"}
    reasons = {line.partition(" ")[0] for line in rows("bad")}
    of_a_link = {"retained", "wrong-board", "same-name"}  # whatever the line says
    assert reasons == {reason.value for reason in RejectReason} - of_a_link
