"""Vehicles over a boundary: what that comes to on both of its sides.

Rule: who stands deeper in a line than those who go does not matter, so a going is found once, however many hypotheses have
it and however these differ elsewhere.
"""

from __future__ import annotations

from typing import Any, NamedTuple

Line = tuple[str, ...]
VEHICLE, BOUNDARY = "=", "@"
"""A vehicle's id has the one before it where stretches and boundaries are called by theirs; a boundary's has the other in
it, and no other id has."""


class Passed(NamedTuple):
    """The last vehicle at a boundary, which way it goes (outward: from the throat), when, and whether it only came there and
    went back."""

    vehicle: str
    outward: bool
    t: float
    touched: bool = False


class Going(NamedTuple):
    """A group, the first of it first, that goes over a boundary from one stretch to another. `left`: what of its line stays;
    `joining`: the group as it stands from end 0 then, before the others or behind them (`first`); `then`: where each of it
    stands then, and the last at the boundary. Where nobody goes, somebody has come to the boundary alone."""

    group: Line
    start: str
    left: slice
    goal: str
    joining: Line
    first: bool
    then: dict[str, Any]


def going(group: Line, ends: tuple[str, int, str, int], boundary: str, passed: Passed) -> Going:
    """A group that goes over a boundary: `ends` as in `Yard.ends`."""
    (start, start_end, goal, end), size = ends, len(group)
    left = slice(size, None) if start_end == 0 else slice(None, -size if size else None)
    joining = group[::-1] if end == 0 else group
    then = {**{VEHICLE + vehicle: goal for vehicle in group}, boundary: passed}
    return Going(group, start, left, goal, joining, end == 0, then)
