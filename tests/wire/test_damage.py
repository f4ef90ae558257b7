"""Damaged lines: never an error, and no more of them accepted than an 8-bit XOR sum must let through.

Bounds, derived. One byte changed: the XOR differs for certain, so nothing wrong is accepted. Several bytes drawn anew: once
the others are drawn, the last one of the body has a single value that mends the sum, so at most 1 in as many as there are
bytes to draw from is accepted; over n seeded tries that is n times this share and five standard deviations, before the
grammar has refused any. Two lines run together: the "*" of the first stands in the body, where the grammar forbids it.
"""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, BoardLine, Edge, Hello, Line, Reject, Report, State
from bridge.wire.parser import Parser, parse_line

LINES: list[Line] = [
    Hello("alder", 17, 1204, 10, (("fw", "1.0"), ("reset", "power"))),
    Alive("birch", 3, 41, 98123, (("free", "812"), ("rssi", "-71"))),
    Report("alder", 17, 2, 22087, 10, "off"),
    State("alder-quarry", 4_000_000_000, 1, 1260, 10, "tag=04A1003B68"),
    Edge("alder", 17, 81234567, 3, "on"),
    Again(17, 5, 0),
]
RAW = [encode(line)[:-1] for line in LINES]
PRINTABLE = bytes(range(0x20, 0x7F))


def is_wrongly_accepted(damaged: bytes, meant: Line) -> bool:
    said = parse_line(damaged)
    return not isinstance(said, Reject) and said != meant


def replaced(rng: random.Random, raw: bytes, count: int, alphabet: bytes) -> bytes:
    damaged = bytearray(raw)
    for place in rng.sample(range(len(raw)), count):
        damaged[place] = rng.choice(alphabet)
    return bytes(damaged)


def most_expected(tries: int, share: float) -> float:
    return tries * share + 5 * math.sqrt(tries * share * (1 - share))


def test_no_change_of_a_single_byte_is_accepted() -> None:
    for raw, meant in zip(RAW, LINES, strict=True):
        for place in range(len(raw)):
            for byte in range(256):
                damaged = raw[:place] + bytes([byte]) + raw[place + 1 :]
                assert not is_wrongly_accepted(damaged, meant), damaged


@pytest.mark.parametrize("alphabet", [bytes(range(256)), PRINTABLE], ids=["any byte", "printable"])
@pytest.mark.parametrize("count", [2, 3, 8])
def test_random_changes_pass_no_more_often_than_the_sum_allows(alphabet: bytes, count: int) -> None:
    rng, tries = random.Random(count), 12_000
    passed = sum(
        is_wrongly_accepted(replaced(rng, RAW[n % len(RAW)], count, alphabet), LINES[n % len(RAW)]) for n in range(tries)
    )
    assert passed <= most_expected(tries, 1 / len(alphabet))


def test_one_sum_of_256_is_right() -> None:
    for raw, meant in zip(RAW, LINES, strict=True):
        said = [parse_line(b"%b*%02X" % (raw[:-3], number)) for number in range(256)]
        assert [line for line in said if not isinstance(line, Reject)] == [meant]


def test_no_cut_line_is_accepted_but_by_its_sum() -> None:
    tries = passed = 0
    for raw, meant in zip(RAW, LINES, strict=True):
        for start in range(len(raw)):
            for end in range(start, len(raw)):
                tries += 1
                passed += is_wrongly_accepted(raw[:start] + raw[end + 1 :], meant)
    assert tries > 5_000
    assert passed <= most_expected(tries, 1 / 256)


@given(st.lists(st.from_type(BoardLine), min_size=2, max_size=4))  # type: ignore[arg-type]
def test_lines_run_together_are_never_one_line(merged: list[BoardLine]) -> None:
    said = Parser().feed(b"".join(encode(line)[:-1] for line in merged) + b"\n")
    assert [type(item) for item in said] == [Reject]


@given(st.from_type(BoardLine), st.from_type(BoardLine), st.binary(max_size=140))  # type: ignore[arg-type]
def test_a_line_after_rubbish_and_an_end_is_read(before: BoardLine, after: BoardLine, rubbish: bytes) -> None:
    sent = [line for line in (before, after) if len(encode(line)) <= 121]
    said = Parser().feed(b"".join(rubbish + b"\n" + encode(line) for line in sent))
    assert [item for item in said if not isinstance(item, Reject)][-1:] == sent[-1:]
