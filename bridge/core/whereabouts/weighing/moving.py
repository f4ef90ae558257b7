"""What can move at all: an engine has to be coupled to it, and the plan and the track detectors speak for or against.

Rule: everything here is the logarithm of a chance, 0 where nothing speaks against.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.yard import Yard


def moved_by(yard: Yard, stands: Arrangement, group: Sequence[str], boundary: Boundary, outward: bool) -> float:
    """Is there an engine that takes this group, the first of it first, over a boundary: in it, before it or behind it?"""
    engines = yard.engines
    if any(v in engines for v in group):
        return 0.0
    start, end, goal, _ = yard.ends(boundary, outward)
    if any(v in engines for v in stands.line(goal)) or any(v in engines for v in stands.behind(group[-1], end)):
        return 0.0
    plant = yard.plant
    for throat, other in ((goal, start), (start, goal)):
        if throat in plant.throats:
            for beside in plant.at_stretch[throat]:
                if beside.outer != other and any(v in engines for v in stands.line(beside.outer)):
                    return c.BEYOND
    return c.BY_ITSELF


def engine_about(yard: Yard, stands: Arrangement, whence: str, boundary: Boundary) -> float:
    """Is an engine near enough to have brought a vehicle from a place to a boundary without anything telling?"""
    here, there = yard.plant.station_of(boundary.throat), yard.plant.station_of(whence)
    beside = (*stands.line(boundary.outer), *stands.line(boundary.throat))
    if here == there and any(v in yard.engines for v in beside):
        return 0.0
    if any(v in yard.engines for v in stands.line(whence)) or engines_at(yard, stands, there):
        return log(0.5)
    return c.BY_ITSELF


def set_down(yard: Yard, prior: Prior, stretch: str, vehicles: Sequence[str]) -> float:
    """Something stands on a stretch now: what its detector says to that."""
    if prior.stretch_state(stretch) == "clear" and any(yard.stock[v].detected for v in vehicles):
        return c.AGAINST_CLEAR
    return 0.0


def points(prior: Prior, boundary: Boundary) -> float:
    """The points may lie against a boundary."""
    return 0.0 if prior.reachable(boundary.id) else c.AGAINST_POINTS


def booked(yard: Yard, prior: Prior, vehicle: str, goal: str) -> float:
    """What the plan says to an engine's going into a section."""
    if goal not in yard.plant.sections or vehicle not in yard.engines:
        return 0.0
    return c.BOOKED_SECTION if prior.next_section(vehicle) == goal else c.OTHER_SECTION


def engine_of(yard: Yard, row: Sequence[str]) -> str | None:
    """The first engine in a row."""
    return next((v for v in row if v in yard.engines), None)


def engines_at(yard: Yard, stands: Arrangement, station: str | None) -> list[str]:
    """The engines at a station, on its roads and in its throats."""
    return [v for stretch in yard.stretches(station) for v in stands.line(stretch) if v in yard.engines]
