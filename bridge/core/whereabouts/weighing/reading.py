"""A tag read: the ways in which its vehicle can have come to the reader, from where each hypothesis has it.

Rule: a vehicle that is read goes over the boundary, or comes to it and back. All that stood before it have gone before it,
unread; or they had been left somewhere earlier; or the order was another. From afar it has come by the shortest way, and
what was before it was drawn out first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import log
from typing import NamedTuple

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.absence import Leaving
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.crossing import Crossed, Line, Passed, crossing
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis, Unread
from bridge.core.whereabouts.weighing.known import Known
from bridge.core.whereabouts.weighing.yard import Yard

LIKELIEST = 2  # so many roads on to which something may have stepped aside are weighed
MOST_BEHIND = 2  # so many that may have been pushed in front of what is read


class _Walk(NamedTuple):
    """What it takes that all before the vehicle go over the boundary, and it goes over too (`crosses`, `crossed`) or comes
    to it and goes back (`touches`, `touched`). `moved`: whether an engine moves them; None where none is beside them, and
    others have to be asked for; `more`: what else speaks for it or against."""

    ahead: Line
    group: Line
    unread: tuple[Unread, ...]
    chance: float
    moved: float | None
    more: float
    crosses: float
    crossed: Crossed
    touches: float
    touched: Crossed


class Reading:
    """One read, explained by one hypothesis after another. `is_echo`: another reader has said this tag just now;
    `is_again`: this one has, and others since."""

    def __init__(
        self,
        yard: Yard,
        prior: Prior,
        vehicle: str,
        boundary: Boundary,
        t: float,
        known: Known,
        *,
        is_echo: bool,
        is_again: bool = False,
    ) -> None:
        self._yard, self._prior, self._vehicle, self._boundary, self._t = yard, prior, vehicle, boundary, t
        self._leaving, self._is_again, self._known = Leaving(yard, prior, boundary, known), is_again, known
        self._ghost = c.ECHO if is_echo else c.GHOST
        self._again_s = c.AGAIN_S if len(yard.stock[vehicle].tags) < 2 else c.AGAIN_BOTH_S
        self._passings: dict[tuple[Line, str], tuple[float, tuple[Unread, ...]]] = {}
        self._unseen: dict[tuple[str, str], float] = {}
        self._lifted: float | None = None
        self._walks: dict[tuple[bool, Line, Line, Passed | None], _Walk] = {}
        missed = yard.quality.missed(boundary.id)
        self._read = 0.0 if missed is None else log(1.0 - missed)

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis."""
        boundary, vehicle = self._boundary, self._vehicle
        last = hypothesis.stands.last_at(boundary.id)
        if last is not None and last.vehicle == vehicle and self._t - last.t < self._again_s:
            again = hypothesis.branch(0.0)
            again.stands.note(vehicle, boundary, last.outward, self._t, last.touched)
            branches.add(again)
            return
        if self._is_again:
            branches.add(hypothesis)
            return
        place = hypothesis.stands.place(vehicle)
        if place in (boundary.outer, boundary.throat):
            self._at_hand(hypothesis, branches, outward=place == boundary.throat)
        elif place != OFF:
            self._from_afar(hypothesis, branches, place, boundary.throat, outward=True)
            self._from_afar(hypothesis, branches, place, boundary.outer, outward=False)
        else:
            self._from_nowhere(hypothesis, branches)
        hypothesis.weight += self._ghost
        branches.add(hypothesis)

    def _at_hand(self, hypothesis: Hypothesis, branches: Branches, outward: bool) -> None:
        stands = hypothesis.stands
        walk = self._walk(stands, outward)
        ahead, moved = walk.ahead, walk.moved
        if moved is None:
            moved = moving.moved_from_beyond(self._yard, self._prior, stands, walk.group, self._boundary, outward)
        chance = walk.chance + (moved + walk.more)
        if ahead or branches.worth(hypothesis.weight + chance + walk.crosses):
            crossed = hypothesis.branch(chance + walk.crosses)
            crossed.stands.stand(walk.crossed)
            crossed.unread = walk.unread
            branches.add(crossed)
        if ahead:
            self._leaving.before(stands, crossed, ahead, branches)
            self._out_of_order(hypothesis, branches, ahead, outward)
        if branches.worth(hypothesis.weight + chance + walk.touches):
            touched = hypothesis.branch(chance + walk.touches)
            touched.stands.stand(walk.touched)
            touched.unread = walk.unread
            branches.add(touched)

    def _walk(self, stands: Arrangement, outward: bool) -> _Walk:
        """The vehicle, and all before it, over the boundary: what that takes follows from who stands on both sides, and they
        are the same in most hypotheses."""
        boundary = self._boundary
        start, goal = (boundary.throat, boundary.outer) if outward else (boundary.outer, boundary.throat)
        key = (outward, stands.line(start), stands.line(goal), stands.last_at(boundary.id))
        walk = self._walks.get(key)
        if walk is None:
            walk = self._walks[key] = self._walked(stands, *key)
        return walk

    def _walked(self, stands: Arrangement, outward: bool, row: Line, there: Line, last: Passed | None) -> _Walk:
        yard, prior, boundary, vehicle, t = self._yard, self._prior, self._boundary, self._vehicle, self._t
        end = yard.ends(boundary, outward)[1]
        ahead = stands.ahead(vehicle, end)
        group = (*ahead, vehicle)
        moved: float | None = 0.0
        if yard.engines.isdisjoint(group):
            moved = moving.moved_from_beside(yard, prior, group, (*there, *stands.behind(vehicle, end)))
        is_soon = last is not None and last.vehicle == vehicle and last.touched and t - last.t < c.SOON_S
        again = c.COMES_AGAIN if is_soon else 0.0
        chance, unread = self._passing(ahead, boundary)
        touches = self._touches(outward)
        return _Walk(
            ahead,
            group,
            unread,
            self._read + chance,
            moved,
            again + moving.turns_back(yard, prior, stands, group, boundary, outward, t),
            log(1.0 - touches),
            crossing(row, there, group, boundary, outward, Passed(vehicle, outward, t)),
            log(touches),
            crossing(row, there, ahead, boundary, outward, Passed(vehicle, not outward, t, touched=True)),
        )

    def _out_of_order(self, hypothesis: Hypothesis, branches: Branches, ahead: Line, outward: bool) -> None:
        """It goes over the boundary alone: those before it stood behind it."""
        yard, boundary, vehicle = self._yard, self._boundary, self._vehicle
        start = yard.ends(boundary, outward)[0]
        order = c.OUT_OF_ORDER if start in yard.plant.roads else c.OUT_OF_TRAIN_ORDER
        is_read_so = self._known.went_in_behind(vehicle, ahead, boundary.id)
        alone = self._read + (c.OUT_OF_READ_ORDER if is_read_so else order)
        alone += moving.moved_by(yard, self._prior, hypothesis.stands, (vehicle,), boundary, outward)
        if branches.worth(hypothesis.weight + alone):
            other = hypothesis.branch(alone)
            other.stands.cross((vehicle,), boundary, outward, self._t)
            branches.add(other)

    def _touches(self, outward: bool) -> float:
        """The chance that the vehicle goes back from the reader to where it came from."""
        if outward and self._boundary.outer in self._yard.plant.sections:
            return c.TOUCHES_LIMIT
        return c.ENGINE_TOUCHES if outward and self._vehicle in self._yard.engines else c.TOUCHES

    def _from_afar(self, hypothesis: Hypothesis, branches: Branches, place: str, side: str, outward: bool) -> None:
        """By the way to one side of the boundary, and over it."""
        way = self._yard.way(place, side, self._boundary.id)
        if way is None:
            return
        steps = (*way, self._boundary)
        self._drawn_out(hypothesis, branches, steps, outward, behind=0)
        if len(steps) == 2 and steps[0].throat_end == self._boundary.throat_end and outward:
            for behind in range(1, MOST_BEHIND + 1):
                self._drawn_out(hypothesis, branches, steps, outward, behind)
        self._joined_before(hypothesis, branches, steps, outward)
        if len(steps) == 2 and outward:
            for aside in self._stepped_aside(hypothesis, branches, steps[0]):
                self._drawn_out(aside, branches, steps, outward, behind=0)

    def _stepped_aside(self, hypothesis: Hypothesis, branches: Branches, mouth: Boundary) -> Iterator[Hypothesis]:
        """What stood in the way, in the throat or before it on its road, with an engine, had gone on to another road before,
        where nothing told of it."""
        yard, throat, stands = self._yard, mouth.throat, hypothesis.stands
        row = stands.row(throat, mouth.throat_end)
        before = stands.ahead(self._vehicle, mouth.end)
        group = (*(row if moving.engine_of(yard, row) else ()), *(before[::-1] if moving.engine_of(yard, before) else ()))
        engine = moving.engine_of(yard, group)
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
        self, hypothesis: Hypothesis, branches: Branches, steps: tuple[Boundary, ...], outward: bool, behind: int
    ) -> None:
        """It has come all the way now, and those before it on the way have gone before it. `behind`: so many that stood
        behind it were drawn out with it, and have been pushed past the reader before it, unread."""
        yard, prior, vehicle = self._yard, self._prior, self._vehicle
        whence = hypothesis.stands.place(vehicle)
        pushed = hypothesis.stands.behind(vehicle, steps[0].end)[:behind] if behind else ()
        if len(pushed) < behind or any(v in yard.engines for v in pushed):
            return
        made = hypothesis  # as long as nothing differs
        weight, unread = self._with_pushed(pushed, steps, hypothesis.weight + self._read)
        for step in steps:
            out = made.stands.place(vehicle) == step.throat
            _, end, goal, _ = yard.ends(step, out)
            ahead = made.stands.ahead(vehicle, end)
            if pushed:
                ahead = tuple([v for v in ahead if v not in pushed])
            chance, passed = self._passing(ahead, step)
            weight += chance
            unread += passed
            if step is not self._boundary:
                weight += self._goes_unseen(step, goal)
                unread.append(Unread(vehicle, step.id))
            if not branches.worth(weight):
                return
            if made is hypothesis:
                made = hypothesis.branch(0.0)
            group = (*ahead, vehicle, *pushed) if step is not self._boundary else (*pushed[::-1], vehicle)
            made.stands.cross(group if pushed else (*ahead, vehicle), step, out, self._t)
        made.weight = weight
        if vehicle not in yard.engines:
            made.weight += moving.engine_about(yard, made.stands, whence, self._boundary)
        elif outward:
            made.weight += moving.booked(yard, prior, vehicle, self._boundary.outer)
        made.unread = tuple(unread)
        branches.add(made)
        others = [each.vehicle for each in unread if each.vehicle not in (vehicle, *pushed)]
        self._leaving.before(hypothesis.stands, made, others, branches)

    def _goes_unseen(self, step: Boundary, goal: str) -> float:
        """How likely it is that the vehicle goes over a boundary on its way, to a goal, and nothing tells."""
        found = self._unseen.get((step.id, goal))
        if found is None:
            found = self._yard.unread(self._vehicle, step.id) + c.UNSEEN
            if goal not in self._yard.plant.throats:
                found += moving.set_down(self._yard, self._prior, goal, (self._vehicle,))
            self._unseen[step.id, goal] = found
        return found

    def _with_pushed(self, pushed: Line, steps: Sequence[Boundary], weight: float) -> tuple[float, list[Unread]]:
        """A weight, once these have been drawn out too; what is to be taken for unread of them."""
        unread = []
        for other in pushed:
            booked = self._prior.booked_to(other) == self._boundary.outer
            weight += c.DRAWN_OUT_AS_BOOKED if booked else c.DRAWN_OUT
            weight += sum(self._yard.unread(other, step.id) for step in steps)
            unread += [Unread(other, step.id) for step in steps]
        return weight, unread

    def _passing(self, group: Line, step: Boundary) -> tuple[float, tuple[Unread, ...]]:
        """How likely it is that a group passes a boundary unread, and what that is to take for unread."""
        found = self._passings.get((group, step.id))
        if found is None:
            unread = tuple([Unread(v, step.id) for v in group])
            found = self._passings[group, step.id] = (self._yard.all_unread(group, step.id), unread)
        return found

    def _joined_before(self, hypothesis: Hypothesis, branches: Branches, steps: tuple[Boundary, ...], outward: bool) -> None:
        """It had been taken into the train before, unread, and comes where it stands in it."""
        yard, vehicle = self._yard, self._vehicle
        if vehicle in yard.engines:
            return
        if self._lifted is None:
            self._lifted = c.LIFTED_AS_BOOKED if self._prior.wanted(vehicle) is not None else c.LIFTED
        whence = hypothesis.stands.place(vehicle)
        chance = self._read + self._lifted
        chance += sum(yard.unread(vehicle, step.id) for step in steps[:-1])
        chance += moving.engine_about(yard, hypothesis.stands, whence, self._boundary)
        if branches.worth(hypothesis.weight + chance):
            made = hypothesis.branch(chance)
            made.stands.cross((vehicle,), self._boundary, outward, self._t)
            made.unread = tuple(Unread(vehicle, step.id) for step in steps[:-1])
            branches.add(made)

    def _from_nowhere(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """A vehicle that was off the layout has been put on it."""
        for outward in (True, False):
            made = hypothesis.branch(self._read + log(0.5))
            made.stands.cross((self._vehicle,), self._boundary, outward, self._t)
            branches.add(made)
