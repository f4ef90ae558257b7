"""What the tests of the whole firmware share: units of time, what was said, contacts that toggle, frames of a reader."""

from __future__ import annotations

from collections.abc import Iterable

from bridge.wire.lines import BoardLine, Report

from . import chip as c

MS = 1000
S = 1_000_000
READER = 20
LINE_MS = 40
"""The longest that a line waits behind others and is on its way."""


def of(kind: type[BoardLine], sent: Iterable[c.Sent]) -> list[BoardLine]:
    return [line for _, line in sent if isinstance(line, kind)]


def values(sent: Iterable[c.Sent]) -> list[tuple[int, str]]:
    return [(line.input, line.value) for line in of(Report, sent)]  # type: ignore[attr-defined]


def toggles(pin: int, count: int, from_us: int, every_us: int = 50 * MS) -> list[str]:
    return [f"at {from_us + n * every_us} pin {pin} {n % 2}" for n in range(count)]


FRAME = b"\x0201000734E0D2\x03".hex()
OTHER = b"\x0262E3086CED08\r\n\x03".hex()


def frames(hexes: Iterable[str], from_ms: float, every_ms: float = 65) -> list[str]:
    return [f"at {round((from_ms + n * every_ms) * MS)} bytes {text}" for n, text in enumerate(hexes)]
