"""How stations are drawn otherwise than by themselves: moved by some steps, their roads in another order.

Rule: it says nothing of the railway, and nothing follows from it; it is kept beside what a session has learned, so that
every device and every later session shows the same drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

MOST_STEPS = 40


@dataclass(frozen=True, slots=True)
class Drawn:
    """One station: steps to the right and down from where it would stand, and its roads (ids) from the top; no roads where
    they stand as railway.toml has them."""

    right: int = 0
    down: int = 0
    roads: tuple[str, ...] = ()


BY_ITSELF = Drawn()


def in_order(drawn: Drawn, roads: Iterable[str]) -> tuple[str, ...]:
    """The roads of a station as they are drawn: what railway.toml no longer has is left out, what is new there goes last."""
    rows = tuple(roads)
    known = [road for road in drawn.roads if road in rows]
    return (*known, *(road for road in rows if road not in known))


def as_json(drawn: Mapping[str, Drawn]) -> dict[str, list[Any]]:
    """By station: right, down, roads."""
    return {station: [row.right, row.down, list(row.roads)] for station, row in drawn.items()}


def from_json(found: Any) -> dict[str, Drawn]:
    """What `as_json` gave. Raises ValueError where that cannot be read."""
    if not isinstance(found, dict):
        raise ValueError("what is drawn otherwise has to be told by station")
    return {station: _row(row) for station, row in found.items()}


def _row(row: Any) -> Drawn:
    match row:
        case [int(right), int(down), list(roads)] if all(isinstance(road, str) for road in roads):
            return Drawn(right, down, tuple(roads))
    raise ValueError("each station drawn otherwise has to have two steps and its roads")
