"""What can move at all: an engine has to be coupled to it, and the plan and the track detectors speak for or against.

Rule: everything here is the logarithm of a chance, 0 where nothing speaks against.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.yard import Yard


def moved_by(
    yard: Yard, prior: Prior, stands: Arrangement, group: Sequence[str], boundary: Boundary, outward: bool
) -> float:
    """Is there an engine that takes this group, the first of it first, over a boundary: in it, before it or behind it?
    And is it the one that they go with?"""
    if not yard.engines.isdisjoint(group):
        return 0.0
    _, end, goal, _ = yard.ends(boundary, outward)
    beside = moved_from_beside(yard, prior, group, (*stands.line(goal), *stands.behind(group[-1], end)))
    return moved_from_beyond(yard, prior, stands, group, boundary, outward) if beside is None else beside


def moved_from_beside(yard: Yard, prior: Prior, group: Sequence[str], beside: Iterable[str]) -> float | None:
    """The same, of a group without an engine and those before it and behind it; None where no engine is among these."""
    near = yard.engines.intersection(beside)
    return _own(prior, group, near) if near else None


def moved_from_beyond(
    yard: Yard, prior: Prior, stands: Arrangement, group: Sequence[str], boundary: Boundary, outward: bool
) -> float:
    """The same, where none is in the group, before it or behind it: is one on the next stretch but one?"""
    near = stands.found(yard.engines, yard.next_but_one(boundary, outward))
    return c.BEYOND + _own(prior, group, near) if near else c.BY_ITSELF


def _own(prior: Prior, group: Sequence[str], engines: Container[str]) -> float:
    """One of these engines takes a group: is it the one that the group goes with?"""
    lead = prior.leader(group[0])
    return 0.0 if lead is None or lead in engines else c.ANOTHERS


def turns_back(
    yard: Yard, prior: Prior, stands: Arrangement, group: Sequence[str], boundary: Boundary, outward: bool, t: float
) -> float:
    """At a section end a train seldom goes back where it has just come from, nor out where it is not booked."""
    if boundary.outer not in yard.plant.sections:
        return 0.0
    last = stands.last_at(boundary.id)
    turns = last is not None and last.outward is not outward and t - last.t < c.LATELY_S
    return turned(yard, prior, group, boundary, outward, turns=turns)


def turned(yard: Yard, prior: Prior, group: Sequence[str], boundary: Boundary, outward: bool, *, turns: bool) -> float:
    """The same, where it is known whether it goes back where it has just come from."""
    if boundary.outer not in yard.plant.sections:
        return 0.0
    chance = c.TURNS_BACK if turns else 0.0
    lead = prior.leader(group[0])
    if outward and lead is not None and prior.next_section(lead) not in (None, boundary.outer):
        chance += c.NOT_BOOKED_OUT + (0.0 if group[0] in yard.engines else c.PROPELLED)
    return chance


def bound_for(prior: Prior, engine: str, throat: str, yard: Yard) -> float:
    """An engine leaves a road by a throat: is that the way out to where its train goes next?"""
    section = yard.plant.sections.get(prior.next_section(engine) or "")
    if section is None:
        return c.NOT_BOUND
    if throat not in section.throats:
        return c.THE_OTHER_WAY
    return 0.0 if prior.holds(engine, section.id) else c.NOT_BOUND


def engine_about(yard: Yard, stands: Arrangement, whence: str, boundary: Boundary) -> float:
    """Is an engine near enough to have brought a vehicle from a place to a boundary without anything telling?"""
    there = yard.station_of(whence)
    if stands.found(yard.engines, (boundary.outer, boundary.throat)) and there == yard.station_of(boundary.throat):
        return 0.0
    return log(0.5) if stands.found(yard.engines, (whence,)) or engines_at(yard, stands, there) else c.BY_ITSELF


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
    section = prior.next_section(vehicle)
    if section is None:
        return c.UNBOOKED_SECTION
    chance = c.BOOKED_SECTION if section == goal else c.OTHER_SECTION
    return chance if prior.holds(vehicle, goal) else chance + c.WITHOUT_AUTHORITY


def engine_of(yard: Yard, row: Sequence[str]) -> str | None:
    """The first engine in a row."""
    return next((v for v in row if v in yard.engines), None)


def engines_at(yard: Yard, stands: Arrangement, station: str | None) -> list[str]:
    """The engines at a station, on its roads and in its throats."""
    return stands.found(yard.engines, yard.stretches_of(station))
