"""The parser: every word of the grammar, everything that is none, and the same answer however the bytes are cut."""

from __future__ import annotations

from itertools import pairwise

import pynmea2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, Edge, Hello, Line, Reject, RejectReason, Report, State, Watch
from bridge.wire.parser import MAX_LINE_BYTES, BoardParser, Parser, checksum, parse_board_line, parse_line


def summed(body: str) -> bytes:
    """A body with its checksum, computed by another program than ours (NMEA 0183, pynmea2)."""
    return f"{body}*{pynmea2.NMEASentence.checksum(body):02X}".encode("ascii")


GOOD: list[tuple[str, Line]] = [
    ("hello alder 17 1204 inputs=10", Hello("alder", 17, 1204, 10)),
    (
        "hello alder 17 1204 inputs=10 fw=1.0 reset=power min=1",
        Hello("alder", 17, 1204, 10, (("fw", "1.0"), ("reset", "power"), ("min", "1"))),
    ),
    ("hello a 0 0 inputs=0 odd==x=y", Hello("a", 0, 0, 0, (("odd", "=x=y"),))),
    ("alive alder 17 0 3183", Alive("alder", 17, 0, 3183)),
    ("alive alder 17 1 3183 rssi=-71 free=812", Alive("alder", 17, 1, 3183, (("rssi", "-71"), ("free", "812")))),
    ("report alder 17 2 22087 10 off", Report("alder", 17, 2, 22087, 10, "off")),
    ("report board-16-letters 4294967295 1 4294967295 0 on", Report("board-16-letters", 4294967295, 1, 4294967295, 0, "on")),
    ("state alder 17 1 1260 10 tag=04A1003B68", State("alder", 17, 1, 1260, 10, "tag=04A1003B68")),
    ("state alder 17 1 1260 10 tag=00FF", State("alder", 17, 1, 1260, 10, "tag=00FF")),
    ("state alder 17 1 1260 10 tag=00112233445566778899", State("alder", 17, 1, 1260, 10, "tag=00112233445566778899")),
    ("report alder 017 002 0000022087 10 off", Report("alder", 17, 2, 22087, 10, "off")),
    ("edge alder 17 81234567 3 on", Edge("alder", 17, 81234567, 3, "on")),
    ("ask", Ask()),
    ("again 17 5 0", Again(17, 5, 0)),
    ("watch 3 60", Watch(3, 60)),
]

BAD_FIELDS = [
    "hello",
    "hello alder 17 1204",
    "hello alder 17 1204 10",
    "hello alder 17 1204 inputs=",
    "hello alder 17 1204 inputs=x",
    "hello Alder 17 1204 inputs=10",
    "hello al_der 17 1204 inputs=10",
    "hello seventeen-letters 17 1204 inputs=10",
    "hello alder 17 1204 inputs=10 fw",
    "hello alder 17 1204 inputs=10 fw=",
    "hello alder 17 1204 inputs=10 =1",
    "hello alder 17 1204 inputs=10 ",
    "hello alder 17  1204 inputs=10",
    "hello alder 17 1204 inputs=10 fw=\t",
    "hello alder 4294967296 1204 inputs=10",
    "alive alder 17 -1 3183",
    "alive alder 17 +1 3183",
    "alive alder 17 1_0 3183",
    "alive alder 17 1.5 3183",
    "alive alder 17 0x1 3183",
    "alive alder 17 00000000001 3183",
    "alive alder 17 1",
    "report alder 17 0 22087 10 off",
    "report alder 17 2 22087 10 OFF",
    "report alder 17 2 22087 10 off more=1",
    "report alder 17 2 22087 10",
    "report alder 17 2 22087 -1 off",
    "report  17 2 22087 10 off",
    "state alder 17 1 1260 10 tag=",
    "state alder 17 1 1260 10 tag=04",
    "state alder 17 1 1260 10 tag=04A",
    "state alder 17 1 1260 10 tag=04A10",
    "state alder 17 1 1260 10 tag=04a1",
    "state alder 17 1 1260 10 tag=04G1",
    "state alder 17 1 1260 10 tag=0011223344556677889900",
    "edge alder 17 81234567 3 tag=04A1",
    "edge alder 17 81234567 3",
    "ask me",
    "ask ",
    "again 17 5",
    "again 17 5 0 1",
    "watch 3",
    "watch three 60",
]


@pytest.mark.parametrize(("body", "line"), GOOD)
def test_reads_every_word_of_the_grammar(body: str, line: Line) -> None:
    assert parse_line(summed(body)) == line
    assert parse_line(summed(body) + b"\r") == line
    assert parse_line(summed(body).lower() if "tag=" not in body else summed(body)) == line  # the sum in either case


@pytest.mark.parametrize("body", BAD_FIELDS)
def test_a_field_that_does_not_fit_is_rejected(body: str) -> None:
    raw = summed(body)
    assert parse_line(raw) == Reject(RejectReason.BAD_FIELD, raw)


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        (b"", RejectReason.NO_SUM),
        (b"hello alder 17 1204 inputs=10", RejectReason.NO_SUM),
        (b"ask*", RejectReason.NO_SUM),
        (b"ask*7", RejectReason.NO_SUM),
        (b"ask*7G", RejectReason.NO_SUM),
        (b"ask*079", RejectReason.NO_SUM),
        (b"ask* 9", RejectReason.NO_SUM),
        (b"ask*78", RejectReason.BAD_SUM),
        (b"ask*79 ", RejectReason.NO_SUM),
        (b"*00", RejectReason.UNKNOWN_WORD),
        (summed("shout alder 17"), RejectReason.UNKNOWN_WORD),
        (summed("Hello alder 17 1204 inputs=10"), RejectReason.UNKNOWN_WORD),
        (summed(" ask"), RejectReason.UNKNOWN_WORD),
        (summed("\x00ask"), RejectReason.UNKNOWN_WORD),  # a zero byte, as a reset leaves it, is blind to the sum
        ("hällo alder".encode(), RejectReason.NOT_ASCII),
        (b"ask\xff*86", RejectReason.NOT_ASCII),
        (
            b"hello alder 17 1204 inputs=10 fw=a*12*%02X" % checksum(b"hello alder 17 1204 inputs=10 fw=a*12"),
            RejectReason.BAD_FIELD,
        ),
    ],
)
def test_what_is_no_line_says_why(raw: bytes, reason: RejectReason) -> None:
    assert parse_line(raw) == Reject(reason, raw)


def test_words_of_the_host_are_unknown_where_boards_speak() -> None:
    for line in (Ask(), Again(17, 1, 0), Watch(3, 60)):
        raw = encode(line)[:-1]
        assert parse_board_line(raw) == Reject(RejectReason.UNKNOWN_WORD, raw)
        assert BoardParser().feed(raw + b"\n") == [Reject(RejectReason.UNKNOWN_WORD, raw)]
    assert BoardParser().feed(encode(Alive("alder", 1, 0, 5))) == [Alive("alder", 1, 0, 5)]


def longest(length: int) -> bytes:
    """A right line of so many bytes, line end left out."""
    start = "alive alder 17 1 3183 x="
    return summed(start + "y" * (length - len(start) - 3))


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_the_longest_line_is_read_and_one_byte_more_is_not(end: bytes) -> None:
    assert len(longest(MAX_LINE_BYTES)) == 120
    assert isinstance(Parser().feed(longest(120) + end)[0], Alive)
    assert [said.reason for said in Parser().feed(longest(121) + end) if isinstance(said, Reject)] == ["too-long"]


def test_a_run_without_an_end_is_one_reject_and_bounded() -> None:
    parser = Parser()
    said = parser.feed(b"\x55" * 1_000_000)
    said += parser.feed(b"\x55" * 1_000_000)
    assert said == [Reject(RejectReason.TOO_LONG, b"\x55" * 121)]
    assert parser.feed(b"tail of it*00\nask*79\n") == [Ask()]


def test_a_carriage_return_does_not_make_a_long_run_short() -> None:
    run = longest(120) + b"\rmore"
    for chunks in ([run, b"\n"], [run + b"\n"], [bytes([byte]) for byte in run]):
        parser = Parser()
        said = [item for chunk in chunks for item in parser.feed(chunk)]
        assert said == [Reject(RejectReason.TOO_LONG, run[:121])]


def test_empty_lines_say_nothing() -> None:
    assert Parser().feed(b"\n\r\n\nask*79\n\n") == [Ask()]


def test_finish_judges_what_has_no_end() -> None:
    parser = Parser()
    assert parser.feed(b"ask*79") == []
    assert parser.finish() == [Ask()]
    assert parser.feed(b"report al") == []
    assert parser.finish() == [Reject(RejectReason.NO_SUM, b"report al")]
    assert parser.finish() == []
    parser.feed(b"x" * 500)
    assert parser.finish() == []
    assert parser.feed(b"ask*79\n") == [Ask()]


STREAM = (
    b"\x00\xffrubbish\n" + b"".join(summed(body) + b"\r\n" for body, _ in GOOD) + b"x" * 300 + b"\n" + longest(120) + b"\n"
)


@pytest.mark.parametrize("rubbish", [b"", b"\x00\xff\x80 half a line", b"report alder 17 2 220", b"z" * 200])
def test_whole_and_byte_by_byte_and_with_rubbish_behind(rubbish: bytes) -> None:
    whole = Parser()
    at_once = whole.feed(STREAM + rubbish)
    single = Parser()
    by_bytes = [said for byte in STREAM + rubbish for said in single.feed(bytes([byte]))]
    assert by_bytes == at_once
    assert [said for said in at_once if not isinstance(said, Reject)][: len(GOOD)] == [line for _, line in GOOD]
    assert single.finish() == whole.finish()
    assert whole.feed(b"ask*79\n") == [Ask()]


@given(st.binary(max_size=600), st.lists(st.integers(0, 600), max_size=12))
def test_any_bytes_cut_anyhow_give_the_same_and_never_an_error(data: bytes, cuts: list[int]) -> None:
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    parser = Parser()
    pieces = [said for start, end in pairwise(edges) for said in parser.feed(data[start:end])]
    assert pieces == Parser().feed(data)
    assert all(
        isinstance(said, Reject) and len(said.raw) <= MAX_LINE_BYTES + 1 for said in pieces if isinstance(said, Reject)
    )


@given(st.from_type(Line).filter(lambda line: len(encode(line)) <= 121))  # type: ignore[arg-type]
def test_what_is_written_is_read_back(line: Line) -> None:
    assert Parser().feed(encode(line)) == [line]


@given(st.binary(max_size=130).filter(lambda raw: b"\n" not in raw))
def test_one_line_never_raises(raw: bytes) -> None:
    assert parse_line(raw) is not None


# Vectors that many parsers' tests carry, recomputed with pynmea2 1.19.0 (NMEA 0183: XOR of what stands between "$" and "*").
@pytest.mark.parametrize(
    "sentence",
    [
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
        "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
        "$GPGLL,4916.45,N,12311.12,W,225444,A,*1D",
        "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D",
    ],
)
def test_the_checksum_is_that_of_nmea_0183(sentence: str) -> None:
    body, _, said = sentence[1:].partition("*")
    assert checksum(body.encode("ascii")) == int(said, 16) == pynmea2.NMEASentence.checksum(body)
    pynmea2.parse(sentence, check=True)


def test_a_wrong_sum_is_refused_by_both() -> None:
    with pytest.raises(pynmea2.ChecksumError):
        pynmea2.parse("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*48", check=True)
    assert parse_line(b"ask*78") == Reject(RejectReason.BAD_SUM, b"ask*78")
