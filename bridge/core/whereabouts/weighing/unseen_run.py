"""A train that has run through a whole section unseen: what becomes occupied at the far end may be that.

Rule: only of a train that has been given the section, stands at its other end and is booked into it next, where nobody else
is in the section; and the surer nothing on its way would have told.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.following import STILL_OCCUPIED
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import Yard

CAME_THROUGH = log(0.3)  # it has left, run through and come out, and nothing has told of any of that


def explain(yard: Yard, prior: Prior, hypothesis: Hypothesis, branches: Branches, throat: str, goal: str, t: float) -> None:
    """Whoever may have come by a throat to a stretch there (`goal`, or the throat itself) out of a section behind it."""
    for engine, way in _runs(yard, prior, hypothesis.stands, throat, goal):
        start = hypothesis.stands.place(engine)
        row = hypothesis.stands.row(start, way[0].end_at(start))
        group = row[: row.index(engine) + 1]
        chance = CAME_THROUGH + _untold(yard, prior, group, way)
        stays = any(v != engine and prior.leader(v) != engine for v in row)
        chance += STILL_OCCUPIED if prior.stretch_state(start) == "occupied" and not stays else 0.0
        if branches.worth(hypothesis.weight + chance):
            made = hypothesis.branch(chance)
            for step in way:
                made.stands.cross(group, step, made.stands.place(engine) == step.throat, t)
            made.unread += yard.passed_unread(group, way)
            branches.add(made)


def _runs(
    yard: Yard, prior: Prior, stands: Arrangement, throat: str, goal: str
) -> Iterator[tuple[str, tuple[Boundary, ...]]]:
    """The engines that may have come so, and the ways by which."""
    plant = yard.plant
    for limit in plant.at_stretch[throat]:
        section = plant.sections.get(limit.outer)
        if section is None or limit.throat != throat or stands.line(section.id):
            continue
        there = next(end for end in section.throats if end != throat)
        for engine in stands.found(yard.engines, yard.stretches_of(yard.station_of(there))):
            if prior.holds(engine, section.id) and prior.next_section(engine) == section.id:
                way = yard.way(stands.place(engine), goal, "")
                if way and section.id in [step.outer for step in way]:
                    yield engine, way


def _untold(yard: Yard, prior: Prior, group: tuple[str, ...], way: tuple[Boundary, ...]) -> float:
    """How likely it is that nothing on its way has told."""
    chance = sum(yard.all_unread(group, step.id) for step in way if yard.quality.has_reader(step.id))
    chance += sum(moving.points(prior, step) for step in way)
    between = dict.fromkeys(stretch for step in way for stretch in (step.throat, step.outer))
    passed = [stretch for stretch in between if stretch not in yard.plant.roads]
    return chance + c.AGAINST_CLEAR * sum(prior.stretch_state(stretch) == "clear" for stretch in passed)
