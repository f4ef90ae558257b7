"""Lines that were not kept one by one, as there were too many: what one record tells of them all.

Rule: the record is a reject like any other, so that a capture keeps its grammar; what stands in its bytes says whose lines
they were, exactly which numbers they had, and how many a second there were of each input. Each of these numbers counts as
received, once. Bytes that do not read so are an ordinary reject.

    numbered alder 17 401-650,652 3=250@5000 4=100@40     board, boot, numbers, and INPUT=LINES@LINES-A-SECOND
    reading shed 0 - 4=250@5000                           readings through an adapter have no numbers
    edge alder 0 - 3=9000@5000                            nor have undebounced edges, which say nothing of the present
    bad-sum=812 too-long=3                                of rejects: how many there were for each reason
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.wire.parser import is_board_name
from bridge.wire.records import Rejected

SCREAMING = "screaming"
FLOODING = "flooding"
NUMBERED, READING, EDGE = "numbered", "reading", "edge"

_MOST = 0xFFFF_FFFF
_NUMBER = r"(?:0|[1-9]\d{0,9})"
_LINE = re.compile(
    rf"(numbered|reading|edge) (\S+) ({_NUMBER}) (-|{_NUMBER}(?:-{_NUMBER})?(?:,{_NUMBER}(?:-{_NUMBER})?)*)"
    rf"((?: {_NUMBER}={_NUMBER}@{_NUMBER})+)",
    re.ASCII,
)
_REASONS = re.compile(rf"([a-z-]+)=({_NUMBER})", re.ASCII)

Range = tuple[int, int]
"""The first and the last of numbers on end."""


@dataclass(frozen=True, slots=True)
class Screaming:
    """How many lines of one input were withheld, and how many came a second."""

    input: int
    lines: int
    a_second: int


@dataclass(frozen=True, slots=True)
class Withheld:
    """Lines of one board. `kind` is NUMBERED, READING or EDGE; only the first has numbers, ascending, and a boot."""

    kind: str
    board: str
    boot: int
    numbers: tuple[Range, ...]
    inputs: tuple[Screaming, ...]


def told_of_lines(t: float, link: str, withheld: Withheld) -> Rejected:
    """The record that tells of lines."""
    numbers = ",".join(str(first) if first == last else f"{first}-{last}" for first, last in withheld.numbers) or "-"
    inputs = " ".join(f"{row.input}={row.lines}@{row.a_second}" for row in withheld.inputs)
    text = f"{withheld.kind} {withheld.board} {withheld.boot} {numbers} {inputs}"
    return Rejected(t, link, SCREAMING, text.encode("ascii"))


def told_of_rejects(t: float, link: str, reasons: Mapping[str, int]) -> Rejected:
    """The record that tells of rejects, by reason."""
    text = " ".join(f"{reason}={count}" for reason, count in sorted(reasons.items()))
    return Rejected(t, link, FLOODING, text.encode("utf-8"))


def lines_withheld(record: Rejected) -> Withheld | None:
    """What a record tells of lines; None where it is another."""
    parts = _LINE.fullmatch(record.raw.decode("ascii", "replace")) if record.reason == SCREAMING else None
    if parts is None or not is_board_name(parts[2]):
        return None
    numbers = tuple(_range(text) for text in parts[4].split(",")) if parts[4] != "-" else ()
    inputs = tuple(Screaming(*(int(number) for number in re.findall(r"\d+", text))) for text in parts[5].split())
    all_numbers = [int(parts[3]), *(number for row in numbers for number in row)]
    ends = [number for row in numbers for number in row]
    if max(all_numbers) > _MOST or ends != sorted(ends) or (ends and ends[0] == 0) or bool(ends) != (parts[1] == NUMBERED):
        return None
    return Withheld(parts[1], parts[2], int(parts[3]), numbers, inputs)


def rejects_withheld(record: Rejected) -> dict[str, int] | None:
    """How many rejects a record tells of, by reason; None where it is another."""
    if record.reason != FLOODING:
        return None
    found = [_REASONS.fullmatch(text) for text in record.raw.decode("ascii", "replace").split(" ")]
    return {parts[1]: int(parts[2]) for parts in found if parts} if all(found) else None


def ranges(numbers: Iterable[int]) -> tuple[Range, ...]:
    """Numbers as ranges, ascending, each number once."""
    found: list[list[int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return tuple((first, last) for first, last in found)


def _range(text: str) -> Range:
    first, _, last = text.partition("-")
    return int(first), int(last or first)
