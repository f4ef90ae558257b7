"""What the firmware writes and reads, byte for byte as vectors.txt says and as the host does; its parts on this machine."""

from __future__ import annotations

import ctypes
from collections.abc import Iterable

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as with_settings
from hypothesis import strategies as st

from bridge.wire.lines import Again, Alive, Ask, BoardLine, Edge, Hello, HostLine, Reject, Report, State, Watch
from bridge.wire.parser import parse_line

from .test_vectors import raw, rows

NMEA = [  # published sentences of NMEA 0183, found as they stand in the tests of several readers of it
    b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    b"GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    b"GPGLL,4916.45,N,12311.12,W,225444,A,*1D",
    b"GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D",
]
TOLD_MAX = 48


class Line(ctypes.Structure):
    _fields_ = [("length", ctypes.c_uint8), ("bytes", ctypes.c_char * 121)]

    def value(self) -> bytes:
        return ctypes.string_at(ctypes.addressof(self) + 1, self.length)


class Told(ctypes.Structure):
    _fields_ = [("what", ctypes.c_int), ("numbers", ctypes.c_uint32 * 3)]


class Hearing(ctypes.Structure):
    _fields_ = [("length", ctypes.c_uint8), ("bytes", ctypes.c_char * TOLD_MAX)]


def written(pure: ctypes.CDLL, line: BoardLine) -> bytes:
    """The line as the firmware writes it, part by part."""
    made = Line()
    at = ctypes.byref(made)
    pure.line_begin(at, type(line).__name__.lower().encode())
    pure.line_text(at, line.board.encode())
    numbers = [line.boot]
    numbers += {
        Hello: lambda: [line.ms],
        Alive: lambda: [line.seq, line.ms],
        Report: lambda: [line.seq, line.ms, line.input],
        State: lambda: [line.seq, line.ms, line.input],
        Edge: lambda: [line.us, line.input],
    }[type(line)]()
    for number in numbers:
        pure.line_number(at, ctypes.c_uint32(number))
    if isinstance(line, (Hello, Alive)):
        if isinstance(line, Hello):
            pure.line_key(at, b"inputs", ctypes.c_uint32(line.inputs))
        for key, text in line.extra:
            if text.isdigit() and str(int(text)) == text:
                pure.line_key(at, key.encode(), ctypes.c_uint32(int(text)))
            else:
                pure.line_text(at, f"{key}=".encode())
                pure.line_more(at, text.encode())
    elif line.value.startswith("tag="):
        tag = bytes.fromhex(line.value[4:])
        pure.line_tag(at, tag, ctypes.c_uint8(len(tag)))
    else:
        pure.line_text(at, line.value.encode())
    pure.line_end(at)
    return made.value()


def heard(pure: ctypes.CDLL, data: Iterable[int]) -> list[HostLine]:
    """What the firmware takes these bytes for."""
    hearing, told, found = Hearing(), Told(), []
    pure.hearing_byte.restype = ctypes.c_bool
    for byte in data:
        if pure.hearing_byte(ctypes.byref(hearing), ctypes.c_char(byte), ctypes.byref(told)):
            a, b, c = told.numbers
            found.append([Ask(), Again(a, b, c), Watch(a, b)][told.what])
    return found


@pytest.mark.parametrize("sentence", NMEA)
def test_the_checksum_is_that_of_nmea_0183(pure: ctypes.CDLL, sentence: bytes) -> None:
    body, _, sum_ = sentence.partition(b"*")
    assert pure.line_sum(body, len(body)) == int(sum_, 16)


@pytest.mark.parametrize("row", [row for row in rows("good") if not isinstance(parse_line(raw(row)), HostLine)])
def test_a_good_line_is_written_so(pure: ctypes.CDLL, row: str) -> None:
    line = parse_line(raw(row))
    assert isinstance(line, BoardLine)
    assert written(pure, line) == raw(row) + b"\n"


@pytest.mark.parametrize("row", [row for row in rows("good") if isinstance(parse_line(raw(row)), HostLine)])
def test_what_it_is_told_is_read_so(pure: ctypes.CDLL, row: str) -> None:
    line = parse_line(raw(row))
    assert heard(pure, raw(row) + b"\n") == [line]
    assert heard(pure, raw(row)[:-2] + raw(row)[-2:].lower() + b"\r\n") == [line]


def test_no_other_line_of_the_vectors_is_obeyed(pure: ctypes.CDLL) -> None:
    others = [raw(row) for row in (*rows("good"), *rows("read")) if isinstance(parse_line(raw(row)), BoardLine)]
    others += [raw(row.partition(" ")[2]) for row in rows("bad")]
    assert len(others) > 40
    for line in others:
        assert heard(pure, line + b"\n") == [], line


def test_a_line_too_long_is_dropped_and_the_next_one_read(pure: ctypes.CDLL) -> None:
    for length in (TOLD_MAX - 1, TOLD_MAX, TOLD_MAX + 1, 120, 121, 255, 256, 257, 5000):
        assert heard(pure, b"x" * length + b"\nask*79\n") == [Ask()]
        assert heard(pure, b"ask*79" + b" " * length + b"\nask*79\n") == [Ask()]


NUMBER = st.one_of(st.integers(0, 9), st.integers(0, 2**33)).map(str) | st.sampled_from(
    ["", "00000000001", "0000000001", "-1"]
)
BODY = st.one_of(
    st.tuples(st.sampled_from(["ask", "again", "watch", "wa", "asking"]), st.lists(NUMBER, max_size=4)).map(
        lambda parts: " ".join([parts[0], *parts[1]]).encode()
    ),
    st.binary(max_size=60).map(lambda data: data.replace(b"\n", b"")),
)
CHANGE = st.tuples(st.integers(0, 70), st.integers(0, 255).filter(lambda byte: byte != 10))


@with_settings(max_examples=250, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=BODY, right=st.integers(0, 9), change=st.none() | CHANGE)
def test_it_obeys_exactly_what_the_host_would_read(
    pure: ctypes.CDLL, body: bytes, right: int, change: tuple[int, int] | None
) -> None:
    """The project's own parser is the other reader: right, wrong and damaged lines."""
    sum_ = pure.line_sum(body, len(body)) if right else 0
    line = bytearray(body + f"*{sum_:02X}".encode())
    if change is not None:
        line[change[0] % len(line)] = change[1]
    read = parse_line(bytes(line))
    want = [read] if isinstance(read, HostLine) else []
    assert isinstance(read, (Reject, BoardLine, HostLine))
    assert heard(pure, bytes(line) + b"\n") == want
