"""Rubbish into the parser, as much as is asked for: it never fails, holds no more than a line, and reads the next good line.

    python tests/wire/torture.py --bytes 100000000 --lines 1000000 --seed 7

Rubbish is of two kinds. Bytes: any, printable ones, and pieces of what lines are made of, cut into chunks anywhere. Lines:
good ones damaged in twelve ways. Behind each piece stand good lines: the first may be ruined by a piece without an end, the
next must be read. A damaged line that is accepted as another than it was is no failure of the parser but the price of a
checksum of eight bits; it is counted and printed for each way. Exit status 1 where anything failed.
"""

from __future__ import annotations

import argparse
import pickle
import random
import string
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from bridge.wire.encode import encode
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Reject, Report, State
from bridge.wire.parser import BoardParser

MOST_KEPT = 1024
"""Bytes of a parser, pickled: a line of at most 121 and its own frame."""

PRINTABLE = bytes(range(0x20, 0x7F)) + b"\n"
PIECES = [
    *(b"hello alive report state edge ask again watch alder inputs= tag= on off").split(b" "),
    *(
        b" ",
        b" ",
        b"*",
        b"*",
        b"\n",
        b"\r\n",
        b"\r",
        b"=",
        b"-",
        b"0",
        b"1",
        b"17",
        b"4294967296",
        b"00",
        b"79",
        b"\x00",
        b"\xff",
    ),
]


@dataclass
class Figures:
    """What came of it."""

    bytes: int = 0
    lines: int = 0
    crashes: list[str] = field(default_factory=list)
    unread: int = 0
    held: int = 0
    rejected: Counter[str] = field(default_factory=Counter)
    damaged: Counter[str] = field(default_factory=Counter)
    accepted: Counter[str] = field(default_factory=Counter)
    seconds: float = 0.0

    @property
    def is_right(self) -> bool:
        """Whether nothing failed."""
        return not self.crashes and not self.unread and self.held <= MOST_KEPT


def good_lines(rng: random.Random, count: int) -> list[BoardLine]:
    """Lines of every word, short and long, small and large."""

    def number() -> int:
        return rng.choice([0, 1, rng.randrange(100), rng.randrange(1 << 16), rng.randrange(1 << 32)])

    def value() -> str:
        return rng.choice(["on", "off", "tag=" + rng.randbytes(rng.randint(2, 10)).hex().upper()])

    def board() -> str:
        return "".join(rng.choices(string.ascii_lowercase + string.digits + "-", k=rng.randint(1, 16)))

    extra = (("fw", "1.0"), ("reset", "power"))
    makers: list[Callable[[], BoardLine]] = [
        lambda: Hello(board(), number(), number(), number(), extra[: rng.randint(0, 2)]),
        lambda: Alive(board(), number(), number(), number()),
        lambda: Report(board(), number(), 1 + rng.randrange(1 << 31), number(), number(), value()),
        lambda: State(board(), number(), 1 + rng.randrange(1 << 31), number(), number(), value()),
        lambda: Edge(board(), number(), number(), number(), rng.choice(["on", "off"])),
    ]
    return [makers[n % len(makers)]() for n in range(count)]


def rubbish(rng: random.Random, total: int) -> Iterator[bytes]:
    """Bytes, `total` of them, in pieces of 1 to 4096."""
    to_printable = bytes(PRINTABLE[n % len(PRINTABLE)] for n in range(256))
    while total > 0:
        size = min(total, rng.choice([rng.randint(1, 16), rng.randint(1, 512), rng.randint(1, 4096)]))
        piece = rng.randbytes(size)
        kind = rng.randrange(3)
        if kind == 1:
            piece = piece.translate(to_printable)
        elif kind == 2:
            piece = b"".join(rng.choices(PIECES, k=size))[:size]
        total -= len(piece)
        yield piece


def _at(rng: random.Random, raw: bytes) -> int:
    return int(rng.random() * len(raw))


def _replaced(rng: random.Random, raw: bytes, count: int) -> bytes:
    damaged = bytearray(raw)
    for byte in rng.randbytes(count):
        damaged[_at(rng, raw)] = byte
    return bytes(damaged)


def _bit(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    at = _at(rng, raw)
    return raw[:at] + bytes([raw[at] ^ 1 << rng.getrandbits(3)]) + raw[at + 1 :]


def _swapped(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    at = _at(rng, raw)
    return raw[:at] + raw[at + 1 : at + 2] + raw[at : at + 1] + raw[at + 2 :]


def _without(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    at = _at(rng, raw)
    return raw[:at] + raw[at + 1 + rng.getrandbits(2) :]


def _with_more(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    at = _at(rng, raw)
    return raw[:at] + rng.randbytes(1 + rng.getrandbits(2)) + raw[at:]


def _repeated(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    at = _at(rng, raw)
    return raw[: at + 1 + rng.getrandbits(3)] + raw[at:]


def _other_sum(rng: random.Random, raw: bytes, _other: bytes) -> bytes:
    return raw[:-2] + b"%02X" % rng.getrandbits(8)


WAYS: dict[str, Callable[[random.Random, bytes, bytes], bytes]] = {
    "a bit turned": _bit,
    "a byte replaced": lambda rng, raw, _other: _replaced(rng, raw, 1),
    "two bytes replaced": lambda rng, raw, _other: _replaced(rng, raw, 2),
    "eight bytes replaced": lambda rng, raw, _other: _replaced(rng, raw, 8),
    "two bytes swapped": _swapped,
    "bytes lost": _without,
    "bytes added": _with_more,
    "a part sent twice": _repeated,
    "cut off": lambda rng, raw, _other: raw[: _at(rng, raw)],
    "begun in the middle": lambda rng, raw, _other: raw[_at(rng, raw) :],
    "its end and the next one's": lambda rng, raw, other: raw[: _at(rng, raw)] + other[_at(rng, other) :],
    "another sum": _other_sum,
}


def torture_bytes(total: int, seed: int) -> Figures:
    """Feed rubbish bytes, two good lines behind each piece."""
    rng, figures, parser = random.Random(seed), Figures(), BoardParser()
    good = [(line, encode(line)) for line in good_lines(rng, 200)]
    began = time.perf_counter()
    for n, piece in enumerate(rubbish(rng, total)):
        (first, first_raw), (second, second_raw) = good[n % 200], good[(n + 1) % 200]
        figures.bytes += len(piece)
        try:
            said = parser.feed(piece)
            figures.held = max(figures.held, len(pickle.dumps(parser)))
            behind = parser.feed(first_raw + second_raw)
        except Exception:
            figures.crashes.append(f"piece {n} of seed {seed}: {traceback.format_exc()}")
            parser = BoardParser()
            continue
        figures.unread += behind[-1] != second
        for item in (*said, *behind[:-1]):
            if isinstance(item, Reject):
                figures.rejected[item.reason.value] += 1
            elif item != first:
                figures.accepted["bytes"] += 1
    figures.seconds = time.perf_counter() - began
    return figures


def torture_lines(total: int, seed: int) -> Figures:
    """Feed damaged lines, each with a good one behind it; one in eight comes in two chunks."""
    rng, figures, parser = random.Random(seed), Figures(), BoardParser()
    good = [(line, encode(line)) for line in good_lines(rng, 600)]
    ways = list(WAYS.items())
    began = time.perf_counter()
    for n in range(total):
        meant, raw = good[n % 600]
        other, other_raw = good[(n + 7) % 600]
        name, way = ways[n % len(ways)]
        figures.lines += 1
        figures.damaged[name] += 1
        damaged = way(rng, raw[:-1], other_raw[:-1])
        sent = damaged + b"\n" + other_raw
        try:
            if n % 8:
                said = parser.feed(sent)
            else:
                at = _at(rng, sent)
                said = parser.feed(sent[:at])
                figures.held = max(figures.held, len(pickle.dumps(parser)))
                said += parser.feed(sent[at:])
        except Exception:
            figures.crashes.append(f"line {n} of seed {seed}, {damaged!r}: {traceback.format_exc()}")
            parser = BoardParser()
            continue
        figures.unread += not said or said[-1] != other
        for item in said[:-1]:
            if isinstance(item, Reject):
                figures.rejected[item.reason.value] += 1
            elif item != meant:
                figures.accepted[name] += 1
    figures.seconds = time.perf_counter() - began
    return figures


def shown(figures: Figures) -> str:
    """The figures for a person."""
    what = f"{figures.bytes:,} rubbish bytes" if figures.bytes else f"{figures.lines:,} damaged lines"
    rows = [
        f"{what}: {len(figures.crashes)} crashes, {figures.unread} good lines behind them not read, "
        f"at most {figures.held} bytes of parser; {figures.seconds:.1f} s",
        "  rejected: " + ", ".join(f"{count:,} {reason}" for reason, count in figures.rejected.most_common()),
    ]
    if figures.bytes:
        rows.append(f"  accepted as lines: {figures.accepted['bytes']:,}")
    for name, count in figures.damaged.items():
        wrong = figures.accepted[name]
        share = f"1 in {count / wrong:,.0f}" if wrong else "none"
        rows.append(f"  {name}: {wrong:,} of {count:,} accepted as another line ({share})")
    return "\n".join(rows + figures.crashes[:3])


def main() -> int:
    """Do as the command line asks."""
    parser = argparse.ArgumentParser(description="Rubbish into the parser of board lines.")
    parser.add_argument("--bytes", type=int, default=10_000_000)
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    is_right = True
    for torture, total in ((torture_bytes, arguments.bytes), (torture_lines, arguments.lines)):
        if total:
            figures = torture(total, arguments.seed)
            is_right &= figures.is_right
            print(shown(figures), flush=True)
    return 0 if is_right else 1


if __name__ == "__main__":
    sys.exit(main())
