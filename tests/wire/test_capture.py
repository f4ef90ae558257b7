"""The capture file: every record goes out and comes back, and whatever a person did to the file, reading goes on."""

from __future__ import annotations

import io
from base64 import b64encode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.capture import CaptureFault, format_record, read_capture
from bridge.wire.lines import Alive, Hello
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Reading,
    Received,
    Record,
    Rejected,
    Said,
)

EXAMPLE = """\
# Alder and Birch, an evening
0.100000 host started

0.400000 serial-alder !opened
0.412000 serial-alder hello alder 17 1204 inputs=10 fw=1.0 reset=power*10
0.5 serial-alder alive alder 17 0 1260*3A
0.600000 mqtt !up birch
0.700000 mqtt !down birch
0.800000 mqtt !read gate 2 tag=04A1003B68
0.900000 mqtt !rejected bad-sum YXNrKjAw
1.000000 operator begin 19:00
1 operator@Ute-B acknowledge 3 – gesehen
2.000000 serial-alder !closed
3.000000 host stopped
"""
RECORDS: list[Record] = [
    HostStarted(0.1),
    Opened(0.4, "serial-alder"),
    Received(0.412, "serial-alder", Hello("alder", 17, 1204, 10, (("fw", "1.0"), ("reset", "power")))),
    Received(0.5, "serial-alder", Alive("alder", 17, 0, 1260)),
    BoardUp(0.6, "mqtt", "birch"),
    BoardDown(0.7, "mqtt", "birch"),
    Reading(0.8, "mqtt", "gate", 2, "tag=04A1003B68"),
    Rejected(0.9, "mqtt", "bad-sum", b"ask*00"),
    Said(1.0, None, "begin 19:00"),
    Said(1.0, "Ute-B", "acknowledge 3 – gesehen"),
    Closed(2.0, "serial-alder"),
    HostStopped(3.0),
]


def only(text: str | bytes) -> list[Record | CaptureFault]:
    return list(read_capture([text]))


def test_reads_every_kind_of_line() -> None:
    assert list(read_capture(io.StringIO(EXAMPLE))) == RECORDS
    assert list(read_capture(io.BytesIO(EXAMPLE.encode()))) == RECORDS
    assert list(read_capture(io.BytesIO(b"\xef\xbb\xbf" + EXAMPLE.replace("\n", "\r\n").encode()))) == RECORDS


def test_writes_as_the_contract_has_it() -> None:
    lines = [line for line in EXAMPLE.splitlines() if line and not line.startswith("#")]
    written = [format_record(record) for record in RECORDS]
    assert written == [line.replace("0.5 ", "0.500000 ").replace("1 op", "1.000000 op") for line in lines]


@given(st.from_type(Record))  # type: ignore[arg-type]
def test_a_record_written_is_the_record_read(record: Record) -> None:
    text = format_record(record)
    assert "\n" not in text
    assert only(text + "\n") == only(text.encode("utf-8") + b"\r\n") == [record]


@given(st.text(max_size=80), st.text(max_size=20))
def test_no_words_can_break_a_capture(words: str, who: str) -> None:
    line = format_record(Said(1.0, who, words))
    read = only(line.encode("utf-8") + b"\n")
    assert len(read) == 1
    assert len(line.splitlines()) == 1


@given(st.lists(st.binary(max_size=60) | st.text(max_size=60), max_size=8))
def test_any_file_is_read_to_its_end(lines: list[bytes | str]) -> None:
    read = list(read_capture([*lines, "999999999.000000 host stopped"]))
    assert read[-1] == HostStopped(999999999.0)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("report alder 17 2 22087 10 off*00", "bad-sum"),
        ("report alder 17 2 22087 10 off", "no-sum"),
        ("ask*79", "unknown-word"),
        ("again 17 1 0*72", "bad-sum"),
        ("x" * 130, "too-long"),
        ("räport*00", "not-ascii"),
    ],
)
def test_a_board_line_that_is_none_counts_as_rejected(line: str, reason: str) -> None:
    (record,) = only(f"1.000000 serial-alder {line}\n")
    assert isinstance(record, Rejected)
    assert (record.t, record.link, record.reason) == (1.0, "serial-alder", reason)
    assert record.raw == line.encode()[:121]
    assert only(format_record(record)) == [record]


@pytest.mark.parametrize(
    "line",
    [
        "serial-alder !opened",
        "half past seven serial-alder !opened",
        "-1.0 serial-alder !opened",
        "1,5 serial-alder !opened",
        "1e5 serial-alder !opened",
        "nan serial-alder !opened",
        "1.000000",
        "1.000000 serial-alder",
        "1.000000 host",
        "1.000000 host fell over",
        "1.000000 operator",
        "1.000000 operator@ute   ",
        "1.000000 mqtt !exploded",
        "1.000000 mqtt !up",
        "1.000000 mqtt !up Birch",
        "1.000000 mqtt !down a-board-name-too-long",
        "1.000000 mqtt !read gate 2",
        "1.000000 mqtt !read gate 2 ajar",
        "1.000000 mqtt !read gate -2 on",
        "1.000000 mqtt !rejected",
        "\x00\x00\x00",
    ],
)
def test_a_line_that_cannot_be_read_is_named_and_the_rest_goes_on(line: str) -> None:
    fault, record = read_capture(["# first\n", line + "\n", "2.000000 host stopped\n"][1:])
    assert isinstance(fault, CaptureFault)
    assert (fault.line_no, fault.text, fault.kept) == (1, line, False)
    assert fault.message and fault.remedy
    assert record == HostStopped(2.0)


def test_faults_count_the_lines_of_the_file() -> None:
    found = read_capture(["# one\n", "\n", "three\n", "4.0 host started\n", "five\n"])
    assert [item.line_no for item in found if isinstance(item, CaptureFault)] == [3, 5]


def test_seconds_that_run_back_lose_nothing() -> None:
    first, fault, second, third = read_capture(["5.0 host started", "3.0 mqtt !opened", "5.5 mqtt !closed"])
    assert isinstance(fault, CaptureFault)
    assert (fault.line_no, fault.kept) == (2, True)
    assert [first, second, third] == [HostStarted(5.0), Opened(5.0, "mqtt"), Closed(5.5, "mqtt")]


def test_words_that_are_no_utf_8_are_kept_as_far_as_they_can_be_read() -> None:
    fault, record = only(b"1.0 operator explain 3 T\xfcr offen\n")
    assert isinstance(fault, CaptureFault) and fault.kept
    assert record == Said(1.0, None, "explain 3 T\N{REPLACEMENT CHARACTER}r offen")


def test_rejected_bytes_that_are_no_base64_are_kept_as_they_stand() -> None:
    fault, record = only("1.0 mqtt !rejected bad-sum a%b\n")
    assert isinstance(fault, CaptureFault) and fault.kept
    assert record == Rejected(1.0, "mqtt", "bad-sum", b"a%b")


def test_rejected_nothing_is_still_a_record() -> None:
    assert only("1.0 mqtt !rejected retained\n") == [Rejected(1.0, "mqtt", "retained", b"")]
    assert (
        format_record(Rejected(1.0, "mqtt", "retained", b"\x00"))
        == f"1.000000 mqtt !rejected retained {b64encode(bytes(1)).decode()}"
    )
