"""Choosing the likeliest reading where a track detector tells that something moved, but not what.

Rule: scores are sums of small reasons, each named here; a proof (a road that says clear, points that lie the other way)
outweighs every habit, and a tie falls to the plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.plant import Boundary

if TYPE_CHECKING:
    from bridge.core.whereabouts import Prior

    from .picture import Picture

IMPOSSIBLE = -99.0
UNREAD = -2.5  # a good reader would have told
POINTS_AGAINST = -4.0
CLOSE = 2.0  # readings whose scores differ by less are not told apart


@dataclass(frozen=True, slots=True)
class Mover:
    """A vehicle that can have moved, and the boundaries that it passed."""

    vehicle: str
    way: tuple[Boundary, ...]


def is_doubtful(picture: Picture, goal: str, prior: Prior, t: float) -> bool:
    """True where two or more could have come onto a stretch almost as likely as each other."""
    values = sorted(
        value
        for boundary in picture.plant.at_stretch[goal]
        if boundary.outer == goal
        for value, _ in _movers(picture, goal, boundary, prior, t)
    )
    return len(values) > 1 and values[-1] - values[-2] < CLOSE


def choose_mover(picture: Picture, goal: str, boundaries: Sequence[Boundary], prior: Prior, t: float) -> Mover | None:
    """Who can have come onto a stretch that has become occupied, by one of its boundaries."""
    best: tuple[float, str, Mover] | None = None
    for boundary in boundaries:
        if boundary.outer != goal:
            continue
        for value, mover in _movers(picture, goal, boundary, prior, t):
            if best is None or (value, mover.vehicle) > best[:2]:
                best = (value, mover.vehicle, mover)
    return best[2] if best is not None and best[0] > 0 else None


def _movers(picture: Picture, goal: str, boundary: Boundary, prior: Prior, t: float) -> list[tuple[float, Mover]]:
    throat = boundary.throat
    state = prior.stretch_state(throat)
    common = {"occupied": 2.0, "clear": IMPOSSIBLE}.get(state, 0.0)
    common += UNREAD if picture.plant.read_at(boundary.id) and goal in picture.plant.roads else 0.0
    common += 0.0 if prior.reachable(boundary.id) else POINTS_AGAINST
    inside = picture.lines.outermost(throat, boundary.throat_end)
    if inside is not None:
        return [(4.0 + common, Mover(inside, (boundary,)))]
    found: list[tuple[float, Mover]] = []
    for other in picture.plant.at_stretch[throat]:
        if other.outer == goal:
            continue
        lead = picture.lines.outermost(other.outer, other.end)
        engine = picture.leader(lead) if lead is not None else None
        if lead is None or engine is None or picture.place(engine) != other.outer:
            continue
        value = common + (2.0 if lead == engine else 1.0)
        value += UNREAD if picture.plant.read_at(other.id) else 0.0
        value += 0.0 if prior.reachable(other.id) else POINTS_AGAINST
        value += 1.0 if t - picture.stirred.get(engine, -1e9) < 60.0 else 0.0
        value += 1.0 if prior.awake(engine) else -1.5
        if goal in picture.plant.sections:
            value += 2.0 if prior.next_section(engine) == goal else -1.0
            value += 2.0 if prior.holds(engine, goal) else 0.0
        elif other.outer in picture.plant.sections:
            value += 1.0
        found.append((value, Mover(lead, (other, boundary))))
    return found


def choose_goal(picture: Picture, throat: str, row: Sequence[str], prior: Prior, proved: bool) -> Boundary | None:
    """By which boundary the vehicles that were in a throat have left it. `proved`: a detector says that they have."""
    best: tuple[float, str, Boundary] | None = None
    for boundary in picture.plant.at_stretch[throat]:
        if boundary.outer == throat:
            continue
        value = _goal_value(picture, boundary, row, prior)
        if boundary.outer in picture.plant.sections and not _may_have_gone(picture, boundary.outer, row, prior, proved):
            continue  # a train is not sent out on the line for want of a better place
        if best is None or (value, boundary.id) > best[:2]:
            best = (value, boundary.id, boundary)
    return best[2] if best is not None and best[0] > IMPOSSIBLE / 2 else None


def _may_have_gone(picture: Picture, section: str, row: Sequence[str], prior: Prior, proved: bool) -> bool:
    """True where something speaks for a train's having gone into a section: the plan, its authority, or more of it there."""
    for engine in {picture.leader(v) for v in row} - {None}:
        if engine is None:
            continue
        if proved and (prior.next_section(engine) == section or prior.holds(engine, section)):
            return True
        if any(picture.place(v) == section for v in picture.company(engine)):
            return True
    return prior.stretch_state(section) == "occupied"


def _goal_value(picture: Picture, boundary: Boundary, row: Sequence[str], prior: Prior) -> float:
    goal = boundary.outer
    group = row if boundary.throat_end == 0 else row[::-1]
    engine = picture.leader(group[0])
    state = prior.stretch_state(goal)
    if state == "clear" and any(picture.stock[v].detected for v in group):
        return IMPOSSIBLE
    value = 1.0 if state == "occupied" else 0.0
    if picture.plant.read_at(boundary.id):
        value += UNREAD * min(len(group), 3)
    value += 0.0 if prior.reachable(boundary.id) else POINTS_AGAINST
    company = picture.company(engine) if engine is not None else []
    if any(picture.place(v) == goal for v in company):
        value += 4.0 if engine is not None and picture.place(engine) == goal else 2.0
        last = max(company[1:], key=lambda v: picture.changed.get(v, -1e9), default=None)
        parted = len({picture.place(v) for v in company[1:]}) > 1
        value += 2.0 if parted and last is not None and picture.place(last) == goal else 0.0  # it has just pushed that there
    if engine is not None and prior.call_road(engine) == goal:
        value += 1.5
    if goal in picture.plant.sections:
        value += 0.5 if engine is not None and prior.next_section(engine) == goal else -2.0
    if state == "occupied" and not picture.line(goal):
        value += 3.0
    if picture.came_by.get(group[0]) == boundary.id:
        value += 0.5 if goal in picture.plant.roads else -1.0
    return value
