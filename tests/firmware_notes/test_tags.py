"""EM4100 words and reader frames against published ones; on this machine."""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Iterator
from random import Random

import pytest

GOLDEN = {
    # The open firmware from which this word is publishes it as 128 Manchester half-bits of its unit test.
    "5800856402": "1111111110101010001000000000010001010100110001001000000010100000",
    # These two are of frames below, put into the same layout by hand.
    "01000734E0": f"{0xFF8060001E64F41E:064b}",
    "62E3086CED": f"{0xFFB0BD3022CC7770:064b}",
}
ACCEPTED = [
    ("62E3086CED", "08", False),  # the wiki of a maker of such modules, "TTL interface data output format"
    ("01000734E0", "D2", False),  # the same page, usage example
    ("14008EC793", "CE", False),  # header comment of an open firmware's driver
    ("100086F444", "26", False),  # a forum's decoding, held against the decimal number printed on the tag
    ("0C000621A5", "8E", True),  # data sheet of a 125 kHz reader (2013), section 4, binary column
]
REFUSED = [
    ("02004DB005", "FC"),  # field capture in a forum (2012): correct would be FA
    ("060075EA6D", "D6"),  # the same: F4
    ("060075824E", ";D"),  # the same: no digit
    ("0000000000", "00"),  # a false read, though its checksum fits
]
NONE, TAG, BAD = range(3)


class Verdict(ctypes.Structure):
    _fields_ = [("framed", ctypes.c_bool), ("rows", ctypes.c_uint16), ("columns", ctypes.c_uint8)]


class BareIn(ctypes.Structure):
    _fields_ = [
        ("word", ctypes.c_uint8 * 8),
        ("tag", ctypes.c_uint8 * 5),
        ("since", ctypes.c_uint8),
        ("filled", ctypes.c_uint8),
        ("half", ctypes.c_uint8),
    ]


class ByteIn(ctypes.Structure):
    _fields_ = [("taken", ctypes.c_uint8), ("bits", ctypes.c_uint8)]


class FrameIn(ctypes.Structure):
    _fields_ = [("digits", ctypes.c_uint8), ("bytes", ctypes.c_uint8 * 6)]


def bits_of(word: str) -> list[int]:
    return [int(bit) for bit in word]


def verdict(pure: ctypes.CDLL, bits: Iterable[int]) -> tuple[Verdict, str]:
    pure.em4100_read.restype = Verdict
    tag = (ctypes.c_uint8 * 5)()
    found = pure.em4100_read(int("".join(map(str, bits)), 2).to_bytes(8, "big"), tag)
    return found, bytes(tag).hex().upper()


def is_right(found: Verdict) -> bool:
    return found.framed and not found.rows and not found.columns


@pytest.mark.parametrize("tag", GOLDEN)
def test_a_published_word_is_read(pure: ctypes.CDLL, tag: str) -> None:
    found, read = verdict(pure, bits_of(GOLDEN[tag]))
    assert is_right(found)
    assert read == tag


@pytest.mark.parametrize("tag", GOLDEN)
def test_every_flipped_data_bit_breaks_one_row_and_one_column_and_tells_where(pure: ctypes.CDLL, tag: str) -> None:
    """A consequence of the layout: 40 data bits in 10 rows and 4 columns."""
    for row in range(10):
        for column in range(4):
            bits = bits_of(GOLDEN[tag])
            bits[9 + 5 * row + column] ^= 1
            found, _ = verdict(pure, bits)
            assert (found.framed, found.rows, found.columns) == (True, 1 << row, 1 << column)


@pytest.mark.parametrize("tag", GOLDEN)
def test_every_other_flipped_bit_is_refused_too(pure: ctypes.CDLL, tag: str) -> None:
    for n in range(64):
        bits = bits_of(GOLDEN[tag])
        bits[n] ^= 1
        assert not is_right(verdict(pure, bits)[0])


def runs(
    levels: Iterable[int], unit_us: float, chance: Random | None = None, share: float = 0.0
) -> Iterator[tuple[int, int]]:
    """Levels of equal length as how long the line stood and at what; each edge up to `share` of a unit early or late."""
    last, us, moved = -1, 0.0, 0.0
    for level in levels:
        if last not in (-1, level):
            off = chance.uniform(-share, share) * unit_us if chance else 0.0
            yield round(us + off - moved), last
            us, moved = 0.0, off
        last, us = level, us + unit_us


def halves(words: Iterable[str]) -> list[int]:
    """Manchester, as that unit test has it: a one is high, then low."""
    return [level for word in words for bit in word for level in ((1, 0) if bit == "1" else (0, 1))]


def confirmed(pure: ctypes.CDLL, edges: Iterable[tuple[int, int]], inverted: bool = False) -> list[str]:
    pure.bare_in_edge.restype = ctypes.c_bool
    reader = BareIn()
    pure.bare_in_start(ctypes.byref(reader))
    return [
        bytes(reader.tag).hex().upper()
        for us, level in edges
        if pure.bare_in_edge(ctypes.byref(reader), ctypes.c_uint16(us), ctypes.c_bool(level), ctypes.c_bool(inverted))
    ]


@pytest.mark.parametrize("tag", GOLDEN)
def test_a_tag_counts_with_its_second_word_from_wherever_it_is_first_heard(pure: ctypes.CDLL, tag: str) -> None:
    for start in range(0, 128, 5):
        one = halves([GOLDEN[tag]])
        levels = (one * 5)[start : start + 128 + 256]  # between two and three whole words
        assert confirmed(pure, runs(levels, 256))[:1] == [tag]
        assert confirmed(pure, runs((1 - level for level in levels), 256), inverted=True)[:1] == [tag]
    assert confirmed(pure, runs([*halves([GOLDEN[tag]]), 1, 0], 256)) == []


def test_one_tag_behind_another_is_not_taken_for_it(pure: ctypes.CDLL) -> None:
    words = list(GOLDEN.values())
    assert confirmed(pure, runs(halves([words[0], words[1], words[0], words[2]]), 256)) == []


@pytest.mark.parametrize("share", [0.1, 0.2, 0.24])
def test_edges_early_and_late_do_no_harm(pure: ctypes.CDLL, share: float) -> None:
    """Two edges a quarter of a half-bit off towards each other make a half as short as it may be."""
    for seed in range(50):
        edges = runs(halves([GOLDEN["5800856402"]] * 3 + ["1"]), 256, Random(seed), share)
        assert confirmed(pure, edges) == ["5800856402"] * 2


@pytest.mark.parametrize("unit_us", [244, 256, 268])
def test_a_carrier_a_little_off_does_no_harm(pure: ctypes.CDLL, unit_us: int) -> None:
    assert confirmed(pure, runs(halves([GOLDEN["62E3086CED"]] * 3 + ["1"]), unit_us)) == ["62E3086CED"] * 2


def test_noise_is_no_tag_and_does_not_hide_the_next(pure: ctypes.CDLL) -> None:
    chance = Random(5)
    noise = [(chance.choice((20, 100, 256, 256, 512, 512, 700, 3000)), n % 2) for n in range(30_000)]
    assert confirmed(pure, noise) == []
    assert confirmed(pure, [*noise[:501], *runs(halves([GOLDEN["01000734E0"]] * 4), 256)])[:1] == ["01000734E0"]


def test_a_tag_of_zeros_is_refused(pure: ctypes.CDLL) -> None:
    assert confirmed(pure, runs(halves(["1" * 9 + "0" * 55] * 4), 256)) == []


def frame(digits: str, sum_: str, with_line_end: bool = False) -> bytes:
    return b"\x02" + (digits + sum_).encode() + (b"\r\n" if with_line_end else b"") + b"\x03"


def framed(pure: ctypes.CDLL, data: Iterable[int]) -> tuple[list[str], int]:
    """The tags in these bytes, and how many frames were refused."""
    reader = FrameIn()
    tags, refused = [], 0
    for byte in data:
        said = pure.frame_byte(ctypes.byref(reader), ctypes.c_uint8(byte))
        refused += said == BAD
        if said == TAG:
            tags.append(bytes(reader.bytes)[:5].hex().upper())
    return tags, refused


@pytest.mark.parametrize(("digits", "sum_", "with_line_end"), ACCEPTED)
def test_a_published_frame_is_read(pure: ctypes.CDLL, digits: str, sum_: str, with_line_end: bool) -> None:
    assert framed(pure, frame(digits, sum_, with_line_end)) == ([digits], 0)
    assert framed(pure, frame(digits, sum_, not with_line_end) * 3) == ([digits] * 3, 0)
    assert framed(pure, frame(digits.lower(), sum_.lower())) == ([digits], 0)


def test_the_published_bytes_of_one() -> None:
    assert frame("01000734E0", "D2").hex(" ") == "02 30 31 30 30 30 37 33 34 45 30 44 32 03"
    assert int("100086F444"[2:], 16) == 8844356  # printed on the tag as 0008844356


@pytest.mark.parametrize(("digits", "sum_"), REFUSED)
def test_a_frame_known_to_be_wrong_is_refused_and_counted(pure: ctypes.CDLL, digits: str, sum_: str) -> None:
    assert framed(pure, frame(digits, sum_)) == ([], 1)
    assert framed(pure, frame(digits, sum_) + frame("01000734E0", "D2")) == (["01000734E0"], 1)


def test_a_frame_cut_short_is_refused_and_the_next_one_read(pure: ctypes.CDLL) -> None:
    whole = frame("01000734E0", "D2")
    for length in range(1, len(whole)):
        tags, refused = framed(pure, whole[:length] + whole)
        assert (tags, refused) == (["01000734E0"], 1)
        without = framed(pure, whole[:length] + whole[length + 1 :] + whole)  # one byte is missing
        assert without[0][-1:] == ["01000734E0"]


def test_nothing_but_a_frame_is_a_tag(pure: ctypes.CDLL) -> None:
    chance = Random(3)
    alphabet = b"\x02\x03\r\n0123456789ABCDEF;xz\xff"
    tags, refused = framed(pure, (chance.choice(alphabet) for _ in range(100_000)))
    assert tags == []  # a whole frame with the right sum by chance: once in some ten thousand million bytes
    assert refused > 300


def levels_of(data: bytes, idle_before: int = 20) -> list[int]:
    return [1] * idle_before + [bit for byte in data for bit in (0, *(byte >> n & 1 for n in range(8)), 1)]


def received(pure: ctypes.CDLL, edges: Iterable[tuple[int, int]], quiet_us: int = 2000) -> bytes:
    pure.byte_in_edge.restype = pure.byte_in_quiet.restype = ctypes.c_int16
    line, found = ByteIn(), []
    for us, level in edges:
        found.append(pure.byte_in_edge(ctypes.byref(line), ctypes.c_uint16(us), ctypes.c_bool(level)))
    found.append(pure.byte_in_quiet(ctypes.byref(line), ctypes.c_uint16(quiet_us), ctypes.c_bool(True)))
    return bytes(byte for byte in found if byte != -1)


@pytest.mark.parametrize("bit_us", [101.0, 104.17, 107.0])  # 9600 baud, and nearly 3 per cent off either way
def test_every_byte_is_received_from_its_edges(pure: ctypes.CDLL, bit_us: float) -> None:
    data = bytes(range(256)) + bytes(Random(1).randbytes(2000))
    for gap in (0, 1, 7):
        levels = [level for byte in data for level in levels_of(bytes([byte]), gap)]
        assert received(pure, runs([1, *levels, 1], bit_us, Random(gap), 0.1)) == data


def test_a_byte_is_complete_only_when_its_stop_bit_has_been(pure: ctypes.CDLL) -> None:
    edges = list(runs(levels_of(b"\xff"), 104.17))  # only its start bit has edges
    assert received(pure, edges, 8 * 104) == b""
    assert received(pure, edges, 9 * 104) == b"\xff"


def test_a_broken_line_gives_nothing_and_the_next_byte_is_right(pure: ctypes.CDLL) -> None:
    assert received(pure, [(5000, 1), (3000, 0), *runs([*levels_of(b"A"), 1, 0], 104.17)]) == b"A"
    assert received(pure, [(5000, 1), (3, 0), *runs([*levels_of(b"A"), 1, 0], 104.17)]) == b"A"
