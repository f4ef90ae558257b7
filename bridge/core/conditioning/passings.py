"""Passings that are one: the axles of a train at a treadle, a tag read again and again.

Rule: what is swallowed here is a repeat by the contract's figures; everything else is a passing of its own, in whatever
order the lines came. Times are those at which things happened. Memory is bounded.
"""

from __future__ import annotations

from dataclasses import dataclass, field

AXLES_S = 2.0  # a treadle that sees any axle: passings closer than this are one
CERTAIN_AXLES = 3  # so many on end are a train; a treadle is shaken once or twice: common practice, no source
ABSENCE_S = 0.3  # a tag is read anew only after so long an absence
_KEPT = 8


@dataclass(slots=True)
class Passings:
    """The last passings of one treadle, each (first, last) axle; the last reads of one reader, each tag's (first, last).
    `on_end`: the axles of the newest passing."""

    axles: list[tuple[float, float]] = field(default_factory=list)
    reads: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    on_end: int = 0

    def is_new_axle(self, happened_t: float) -> bool:
        """Take one axle; True where a passing begins with it."""
        is_new = _joins_none(self.axles, happened_t, AXLES_S)
        self.on_end = 1 if is_new else self.on_end + 1
        return is_new

    def is_certain(self) -> bool:
        """True for the axle by which the newest passing has become that of a train."""
        return self.on_end == CERTAIN_AXLES

    def is_new_read(self, tag: str, happened_t: float) -> bool:
        """Take one read; True where the tag had been away."""
        stays = self.reads.pop(tag, [])
        self.reads[tag] = stays
        if len(self.reads) > _KEPT:
            del self.reads[next(iter(self.reads))]
        return _joins_none(stays, happened_t, ABSENCE_S)


def _joins_none(spans: list[tuple[float, float]], t: float, within_s: float) -> bool:
    """Lengthen the span that a moment belongs to, or begin one (then True). Spans are in the order of time."""
    near = [at for at, (first, last) in enumerate(spans) if round(first - t, 6) < within_s and round(t - last, 6) < within_s]
    if near:
        first, last = spans[near[0]]
        spans[near[0]] = (min(first, t), max(last, t))
        return False
    spans.append((t, t))
    spans.sort()
    del spans[:-_KEPT]
    return True
