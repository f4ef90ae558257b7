"""Vehicles over a boundary: what that comes to on both of its sides.

Rule: found from two lines alone, so it holds wherever these stand so; the same crossing is found once, however many
hypotheses have it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from bridge.core.plant import Boundary

Line = tuple[str, ...]


class Passed(NamedTuple):
    """The last vehicle at a boundary, which way it goes (outward: from the throat), when, and whether it only came there and
    went back."""

    vehicle: str
    outward: bool
    t: float
    touched: bool = False


class Crossed(NamedTuple):
    """What a crossing comes to: the lines of both stretches, where those who went over stand, and the last at the
    boundary."""

    lines: Mapping[str, Line]
    at: Mapping[str, str]
    boundary: str
    passed: Passed


def crossing(row: Line, there: Line, group: Line, boundary: Boundary, outward: bool, passed: Passed) -> Crossed:
    """What it comes to where the outermost of one line, the first of them first, go over a boundary to another."""
    if outward:
        start, start_end, goal, end = boundary.throat, boundary.throat_end, boundary.outer, boundary.end
    else:
        start, start_end, goal, end = boundary.outer, boundary.end, boundary.throat, boundary.throat_end
    if not group:
        return Crossed({}, {}, boundary.id, passed)
    row, there = over(row, start_end, there, end, group)
    return Crossed({start: row, goal: there}, dict.fromkeys(group, goal), boundary.id, passed)


def over(row: Line, start_end: int, there: Line, end: int, group: Line) -> tuple[Line, Line]:
    """Both lines once the outermost of the first are over at an end of the other."""
    size = len(group)
    return row[size:] if start_end == 0 else row[:-size], group[::-1] + there if end == 0 else there + group
