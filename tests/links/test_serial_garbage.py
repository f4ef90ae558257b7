"""Rubbish through a real port: nothing is held but a line, nothing ends, and the next good line is read."""

from __future__ import annotations

import random
import threading
import time
from dataclasses import replace

from bridge.wire.encode import encode
from bridge.wire.lines import Alive, Ask
from bridge.wire.records import Closed, Opened, Received, Rejected

from .conftest import QUICK
from .live import lines_of

ANY_PACE = replace(QUICK, bytes_s=100_000_000, foreign_after_s=60.0)
TOTAL = 500_000


def pieces(rng: random.Random) -> list[bytes]:
    """Any bytes, and letters with line ends among them, TOTAL in all."""
    printable = bytes(n % 64 + 0x20 if n % 9 else 0x0A for n in range(256))
    made, left = [], TOTAL
    while left > 0:
        piece = rng.randbytes(min(left, rng.randint(1, 3000)))
        made.append(piece if rng.random() < 0.5 else piece.translate(printable))
        left -= len(piece)
    return made


def test_rubbish_through_a_port(inbox, plug, link_to) -> None:
    """A pseudo-terminal, set raw by opening it, hands over every byte, those that end a terminal's life among them."""
    port = plug("ttyA")
    link = link_to(port, patience=ANY_PACE)
    port.wait_heard(encode(Ask()))
    threads = threading.active_count()
    rng = random.Random(20)
    for n, piece in enumerate(pieces(rng), 1):
        good = Alive("alder", 17, n, 1000)
        rest = piece + encode(good) + encode(good)  # the first may be ruined by a piece that has no end
        while rest:
            try:
                rest = rest[port.say_bytes(rest) :]
            except BlockingIOError:
                time.sleep(0.0005)
        if n % 20 == 0:
            inbox.wait(lambda good=good: inbox.records and good in lines_last(inbox))
    assert n > 200
    inbox.wait(lambda: lines_of(inbox)[-1] == good)
    assert {line.seq for line in lines_of(inbox) if isinstance(line, Alive)} == set(range(1, n + 1))
    assert {type(line) for line in lines_of(inbox)} == {Alive}
    assert inbox.count(Rejected) > 1000
    assert max(len(record.raw) for record in inbox.of(Rejected)) <= 122
    assert (inbox.count(Opened), inbox.count(Closed)) == (1, 0)
    assert threading.active_count() == threads
    assert link.troubles() == ()


def lines_last(inbox) -> list:
    return [record.line for arrival in inbox.arrivals[-3:] for record in arrival.records if isinstance(record, Received)]
