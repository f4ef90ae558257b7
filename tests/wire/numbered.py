"""Numbers taken one after another, and what is missing of them."""

from __future__ import annotations

from bridge.wire.numbering import Numbering, Taken

BOOT = 17


def fed(*seqs: int, boot: int = BOOT, kind: str = "report") -> tuple[Numbering, list[Taken]]:
    numbers = Numbering()
    return numbers, [numbers.take(kind, boot, seq, float(i)) for i, seq in enumerate(seqs)]


def ranges(numbers: Numbering) -> list[tuple[int, int]]:
    return [(row.first, row.last) for row in numbers.missing]
