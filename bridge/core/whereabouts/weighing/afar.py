"""A vehicle that is read where nothing had it: from where it can have come unread.

Rule: from afar it has come by the shortest way, and what was before it was drawn out first; or it had been taken into the
train before; or, of an engine, all that is believed is wrong, which is never out of the question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import log
from typing import NamedTuple

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.absence import Leaving
from bridge.core.whereabouts.weighing.crossing import Line
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis, Unread
from bridge.core.whereabouts.weighing.yard import Yard

LIKELIEST = 2  # so many roads on to which something may have stepped aside are weighed
MOST_BEHIND = 2  # so many that may have been pushed in front of what is read


class _Way(NamedTuple):
    """A way to the boundary and over it: each boundary, whether it is passed outward, by which end what passes it leaves its
    stretch, and how likely it is that the vehicle passes it and nothing tells. `is_near`: over the throat of one station;
    `pushes`: what was behind the vehicle may come before it. `before`: how likely it is that the vehicle had come unread
    before, and what that is to take for unread."""

    steps: tuple[tuple[Boundary, bool, int, float], ...]
    outward: bool
    is_near: bool
    pushes: bool
    before: float
    unread_before: tuple[Unread, ...]


class Afar:
    """One read of a vehicle that is not beside the reader, explained by one hypothesis after another. `read`: how likely it
    is that the reader reads what passes."""

    def __init__(
        self, yard: Yard, prior: Prior, vehicle: str, boundary: Boundary, t: float, leaving: Leaving, read: float
    ) -> None:
        self._yard, self._prior, self._vehicle, self._boundary, self._t = yard, prior, vehicle, boundary, t
        self._leaving, self._read, self._is_engine = leaving, read, vehicle in yard.engines
        self._ways: dict[str, list[_Way]] = {}
        self._passings: dict[tuple[Line, str], tuple[float, tuple[Unread, ...]]] = {}
        self._lifted = 0.0
        if not self._is_engine:
            self._lifted = c.LIFTED_AS_BOOKED if prior.wanted(vehicle) is not None else c.LIFTED

    def explain(self, hypothesis: Hypothesis, branches: Branches, place: str) -> None:
        """All that may follow from a hypothesis that has the vehicle at a place."""
        ways = self._ways.get(place)
        if ways is None:
            ways = self._ways[place] = list(self._found(place))
        for way in ways:
            row, end = hypothesis.stands.line(place), way.steps[0][2]
            index = row.index(self._vehicle)
            ahead, behind = (row[:index], row[index + 1 :]) if end == 0 else (row[:index:-1], row[:index][::-1])
            self._drawn_out(hypothesis, branches, place, way, ahead)
            if way.pushes:
                for many in range(1, min(MOST_BEHIND, len(behind)) + 1):
                    self._drawn_out(hypothesis, branches, place, way, ahead, behind[:many])
            if not self._is_engine:
                self._joined_before(hypothesis, branches, place, way)
            if way.is_near:
                for aside in self._stepped_aside(hypothesis, branches, way.steps[0][0], ahead):
                    before = aside.stands.ahead(self._vehicle, end)
                    self._drawn_out(aside, branches, place, way, before)
        if self._is_engine:
            self._astray(hypothesis, branches)

    def _astray(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """An engine has not come from there: a hand has put it here, or it never was where it is believed."""
        chance = self._read + c.ASTRAY - log(2.0)
        for outward in (True, False):
            if branches.worth(hypothesis.weight + chance):
                made = branches.grow(hypothesis, chance)
                made.stands.cross((self._vehicle,), self._boundary, outward, self._t)

    def _found(self, place: str) -> Iterator[_Way]:
        """The shortest ways to both sides of the boundary, and over it."""
        yard, boundary, vehicle = self._yard, self._boundary, self._vehicle
        for side, outward in ((boundary.throat, True), (boundary.outer, False)):
            way = yard.way(place, side, boundary.id)
            if way is None:
                continue
            steps, here, before = [], place, 0.0
            for step in way:
                out = here == step.throat
                _, end, here, _ = yard.ends(step, out)
                unread = yard.unread(vehicle, step.id)
                before += unread
                steps.append((step, out, end, self._goes_unseen(unread, here)))
            steps.append((boundary, outward, yard.ends(boundary, outward)[1], 0.0))
            is_near = len(steps) == 2 and outward
            pushes = is_near and way[0].throat_end == boundary.throat_end
            passed = tuple([Unread(vehicle, step.id) for step in way])
            yield _Way(tuple(steps), outward, is_near, pushes, self._read + self._lifted + before, passed)

    def _goes_unseen(self, unread: float, goal: str) -> float:
        """How likely it is that the vehicle goes over a boundary on its way, to a goal, and nothing tells."""
        chance = unread + c.UNSEEN
        if goal not in self._yard.plant.throats:
            chance += moving.set_down(self._yard, self._prior, goal, (self._vehicle,))
        return chance

    def _stepped_aside(
        self, hypothesis: Hypothesis, branches: Branches, mouth: Boundary, before: Line
    ) -> Iterator[Hypothesis]:
        """What stood in the way, in the throat or before it on its road, with an engine, had gone on to another road before,
        where nothing told of it."""
        yard, throat = self._yard, mouth.throat
        row = hypothesis.stands.row(throat, mouth.throat_end)
        is_without = yard.engines.isdisjoint
        group = (*(() if is_without(row) else row), *(() if is_without(before) else before[::-1]))
        engine = moving.engine_of(yard, group) if group else None
        if engine is None:
            return
        home = self._prior.call_road(engine)
        goals = [b for b in yard.beyond(throat, mouth.throat_end) if b is not mouth and b.outer in yard.plant.roads]
        goals = [b for b in goals if self._prior.stretch_state(b.outer) != "clear"]
        goals = [b for b in goals if b.outer == home] or goals
        for goal in goals[:LIKELIEST]:
            chance = c.UNSEEN - log(len(goals)) + yard.all_unread(group, goal.id)
            if branches.worth(hypothesis.weight + chance + self._read):
                made = hypothesis.branch(chance)
                for vehicle in group:
                    made.stands.put(vehicle, goal.outer, goal.end)
                made.stands.note(group[-1], goal, True, self._t)
                yield made

    def _drawn_out(
        self, hypothesis: Hypothesis, branches: Branches, whence: str, way: _Way, before: Line, pushed: Line = ()
    ) -> None:
        """It has come all the way now, and those before it on the way (`before`, where it stands) have gone before it.
        `pushed`: those that stood behind it, were drawn out with it, and have been pushed past the reader before it,
        unread."""
        yard, vehicle = self._yard, self._vehicle
        if pushed and not yard.engines.isdisjoint(pushed):
            return
        made = hypothesis  # as long as nothing differs
        weight, unread = self._with_pushed(pushed, way, hypothesis.weight + self._read)
        for step, out, end, unseen in way.steps:
            ahead = before if made is hypothesis else made.stands.ahead(vehicle, end)
            if pushed:
                ahead = tuple([v for v in ahead if v not in pushed])
            if ahead:
                chance, passed = self._passing(ahead, step)
                weight += chance
                unread += passed
            if step is not self._boundary:
                weight += unseen
                unread.append(Unread(vehicle, step.id))
            if not branches.worth(weight):
                return
            if made is hypothesis:
                made = hypothesis.branch(0.0)
            group = (*ahead, vehicle, *pushed) if step is not self._boundary else (*pushed[::-1], vehicle)
            made.stands.cross(group if pushed else (*ahead, vehicle), step, out, self._t)
        made.weight = weight + self._brought(made, whence, way)
        made.unread = tuple(unread)
        branches.add(made)
        self._left_before(hypothesis, made, pushed, branches)

    def _brought(self, made: Hypothesis, whence: str, way: _Way) -> float:
        """Who can have brought it; where it is an engine, whether it is booked to go there."""
        yard, boundary = self._yard, self._boundary
        if not self._is_engine:
            return moving.engine_about(yard, made.stands, whence, boundary)
        return moving.booked(yard, self._prior, self._vehicle, boundary.outer) if way.outward else 0.0

    def _left_before(self, hypothesis: Hypothesis, made: Hypothesis, pushed: Line, branches: Branches) -> None:
        """Others that would have passed unread may have been left where they stood."""
        yard, stands, come = self._yard, hypothesis.stands, (self._vehicle, *pushed)
        others = dict.fromkeys([each.vehicle for each in made.unread if each.vehicle not in come])
        if others:
            placed = tuple([(other, stands.place(other)) for other in others if other not in yard.engines])
            self._leaving.before(made, placed, branches)

    def _with_pushed(self, pushed: Line, way: _Way, weight: float) -> tuple[float, list[Unread]]:
        """A weight, once these have been drawn out too; what is to be taken for unread of them."""
        unread = []
        for other in pushed:
            booked = self._prior.booked_to(other) == self._boundary.outer
            weight += c.DRAWN_OUT_AS_BOOKED if booked else c.DRAWN_OUT
            weight += sum([self._yard.unread(other, step[0].id) for step in way.steps])
            unread += [Unread(other, step[0].id) for step in way.steps]
        return weight, unread

    def _passing(self, group: Line, step: Boundary) -> tuple[float, Sequence[Unread]]:
        """How likely it is that a group passes a boundary unread, and what that is to take for unread."""
        found = self._passings.get((group, step.id))
        if found is None:
            unread = tuple([Unread(v, step.id) for v in group])
            found = self._passings[group, step.id] = (self._yard.all_unread(group, step.id), unread)
        return found

    def _joined_before(self, hypothesis: Hypothesis, branches: Branches, place: str, way: _Way) -> None:
        """It had been taken into the train before, unread, and comes where it stands in it."""
        chance = way.before + moving.engine_about(self._yard, hypothesis.stands, place, self._boundary)
        if branches.worth(hypothesis.weight + chance):
            made = branches.grow(hypothesis, chance, way.unread_before)
            made.stands.cross((self._vehicle,), self._boundary, way.outward, self._t)
