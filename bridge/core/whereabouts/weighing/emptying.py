"""A stretch has become clear: where what a hypothesis has there can have gone.

Rule: all that works detectors has gone, by one end or by both; what went by a boundary a moment ago goes on by it. A
hypothesis in which it still stands there is kept too, as a detector may be wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import Yard

THROUGH_CLEAR = log(0.1)  # it has gone through a throat that says clear already
STAYS_OCCUPIED, FOULED_ONLY = log(0.3), log(0.3)  # the same in one that says occupied; or nothing does, and it is fouled
STAYS_SETTLED = log(0.1)  # after a long quiet something stands in a throat that nothing watches
TOO_SOON = log(0.05)  # it has gone through a section faster than any train on a single line runs
AGAINST_CLEAR_ROAD = log(0.005)
ENGINE_BOOKED, ENGINE_ELSEWHERE = log(0.5), log(0.25)  # as it shunts
ARRIVES_BOOKED, ARRIVES_ELSEWHERE = log(0.8), log(0.1)
TO_ITS_SECTION, TO_ANOTHER_SECTION = log(0.3), log(0.02)
AFTER_ITS_ENGINE, AFTER_AN_ENGINE, BY_THE_PLAN, ANYWHERE = log(0.8), log(0.5), log(0.4), log(0.05)
AFTER_ANOTHERS = log(0.03)
INTO_SECTION_ALONE = log(0.01)
UNSEEN_TOO, MOST_UNSEEN = log(0.3), 3
CAME_ALONG, STAYED_BEHIND = log(0.98), log(0.02)


class Emptying:
    """One stretch that has become clear, explained by one hypothesis after another."""

    def __init__(self, yard: Yard, prior: Prior, stretch: str, t: float) -> None:
        self._yard, self._prior, self._stretch, self._t = yard, prior, stretch, t

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis, where a detector says clear."""
        left = [v for v in hypothesis.stands.line(self._stretch) if self._yard.works_detectors(v)]
        if not left:
            self._behind(hypothesis, branches)
        elif self._stretch in self._yard.plant.throats:
            self._throat(hypothesis, branches, self._stretch, self._falsely(left))
        else:
            self._road(hypothesis, branches, left)

    def settle(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """It has been quiet in a throat for long."""
        if hypothesis.stands.line(self._stretch):
            self._throat(hypothesis, branches, self._stretch, STAYS_SETTLED)
        else:
            branches.add(hypothesis)

    def settle_although_occupied(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """The same where its detector says occupied: something may foul it."""
        if hypothesis.stands.line(self._stretch):
            self._throat(hypothesis, branches, self._stretch, STAYS_OCCUPIED)
        else:
            hypothesis.weight += FOULED_ONLY
            branches.add(hypothesis)

    def _falsely(self, left: Sequence[str]) -> float:
        """A detector says clear although all of these stand there: an engine it sees better, and several better than one."""
        chance = c.FALSELY_CLEAR + (min(len(left), MOST_UNSEEN) - 1) * UNSEEN_TOO
        return chance + (UNSEEN_TOO if any(v in self._yard.engines for v in left) else 0.0)

    def _road(self, hypothesis: Hypothesis, branches: Branches, left: Sequence[str]) -> None:
        yard, prior = self._yard, self._prior
        for mouth in yard.mouths(self._stretch):
            last = left[-1] if mouth.end == 0 else left[0]
            group = (*hypothesis.stands.ahead(last, mouth.end), last)
            chance = yard.all_unread(group, mouth.id) + moving.points(prior, mouth)
            chance += moving.moved_by(yard, prior, hypothesis.stands, group, mouth, outward=False)
            is_clear = prior.stretch_state(mouth.throat) == "clear"
            chance += THROUGH_CLEAR if is_clear else 0.0
            chance += self._runs_through(hypothesis, mouth, group)
            engine = moving.engine_of(yard, group)
            if engine is not None and self._stretch in yard.plant.roads:
                chance += c.SETS_OFF + moving.bound_for(prior, engine, mouth.throat, yard)
            if not branches.worth(hypothesis.weight + chance):
                continue
            made = hypothesis.branch(chance)
            made.stands.cross(group, mouth, outward=False, t=self._t)
            made.unread += yard.passed_unread(group, (mouth,))
            if is_clear:
                self._throat(made, branches, mouth.throat, c.AGAINST_CLEAR, not_to=self._stretch)
            else:
                branches.add(made)
        hypothesis.weight += self._falsely(left)
        branches.add(hypothesis)

    def _runs_through(self, hypothesis: Hypothesis, mouth: Boundary, group: Sequence[str]) -> float:
        """What has gone into a section at its other end has gone through it: has it had the time?"""
        for other in self._yard.mouths(self._stretch):
            last = hypothesis.stands.last_at(other.id) if other is not mouth else None
            if last is not None and last.outward and last.vehicle in group:
                return TOO_SOON if self._t - last.t < self._yard.soonest_s(self._stretch) else 0.0
        return 0.0

    def _throat(self, hypothesis: Hypothesis, branches: Branches, throat: str, stays: float, not_to: str = "") -> None:
        """All that stands in a throat has gone by one of its ends, or has parted and gone by both."""
        row = hypothesis.stands.line(throat)
        for cut in range(len(row) + 1):
            parted = 0.0 if cut in (0, len(row)) else c.PARTED
            first, last = row[:cut], row[cut:][::-1]
            ways = self._goals(hypothesis, throat, 0, first, not_to)
            others = self._goals(hypothesis, throat, 1, last, not_to) if ways else []
            for one, one_chance in ways:
                for other, other_chance in others:
                    chance = parted + one_chance + other_chance
                    if branches.worth(hypothesis.weight + chance):
                        made = hypothesis.branch(chance)
                        self._gone(made, first, one)
                        self._gone(made, last, other)
                        branches.add(made)
        hypothesis.weight += stays
        branches.add(hypothesis)

    def _gone(self, made: Hypothesis, group: Sequence[str], by: Boundary | None) -> None:
        if by is not None:
            made.stands.cross(group, by, outward=True, t=self._t)
            made.unread += self._yard.passed_unread(group, (by,))

    def _goals(
        self, hypothesis: Hypothesis, throat: str, end: int, group: Sequence[str], not_to: str
    ) -> list[tuple[Boundary | None, float]]:
        """By which boundaries at one end a group can have left, and how likely."""
        if not group:
            return [(None, 0.0)]
        return [
            (boundary, self._goes(hypothesis, boundary, group))
            for boundary in self._yard.beyond(throat, end)
            if boundary.outer != not_to
        ]

    def _goes(self, hypothesis: Hypothesis, boundary: Boundary, group: Sequence[str]) -> float:
        yard, prior, goal = self._yard, self._prior, boundary.outer
        chance = yard.all_unread(group, boundary.id) + moving.points(prior, boundary)
        last = hypothesis.stands.last_at(boundary.id)
        if last is not None and last.outward and self._t - last.t < c.LATELY_S:
            chance += c.GOES_ON
        state = prior.stretch_state(goal)
        if state == "clear" and any(yard.works_detectors(v) for v in group):
            chance += AGAINST_CLEAR_ROAD
        engine = moving.engine_of(yard, group)
        there = hypothesis.stands.line(goal)
        after = self._after(group, there)
        if goal in yard.plant.sections:
            if engine is not None:
                return chance + (TO_ITS_SECTION if prior.next_section(engine) == goal else TO_ANOTHER_SECTION)
            return chance + (INTO_SECTION_ALONE if after is None else after)
        if engine is not None:
            chance += c.FOR_NOTHING if group[0] == engine and not there and goal in yard.sidings else 0.0
            chance += self._to_road(hypothesis, boundary, group, prior.call_road(engine))
        elif after is not None:
            chance += after
        else:
            chance += BY_THE_PLAN if all(prior.booked_to(v) == goal for v in group) else ANYWHERE
        if state == "occupied" and not any(yard.works_detectors(v) for v in there):
            chance += c.TELLS_OF_IT
        return chance

    def _to_road(self, hypothesis: Hypothesis, boundary: Boundary, group: Sequence[str], booked: str | None) -> float:
        """A group with an engine goes on to a road: surely enough to the one where it is booked, as it comes in."""
        ways = self._yard.beyond(boundary.throat, boundary.throat_end)
        if any(way.outer == booked for way in ways) and self._has_come_in(hypothesis, boundary, group):
            return ARRIVES_BOOKED if booked == boundary.outer else ARRIVES_ELSEWHERE
        return ENGINE_BOOKED if booked == boundary.outer else ENGINE_ELSEWHERE

    def _has_come_in(self, hypothesis: Hypothesis, boundary: Boundary, group: Sequence[str]) -> bool:
        """True where these have last come into the throat out of a section."""
        came_t, whence = -1e9, ""
        for other in self._yard.beyond(boundary.throat, 1 - boundary.throat_end):
            last = hypothesis.stands.last_at(other.id)
            if last is not None and last.vehicle in group and not last.outward and last.t > came_t:
                came_t, whence = last.t, other.outer
        return whence in self._yard.plant.sections

    def _after(self, group: Sequence[str], there: Sequence[str]) -> float | None:
        """A group without an engine has gone where an engine is: its own, or another's; None where none is."""
        engines = [v for v in there if v in self._yard.engines]
        if not engines:
            return None
        lead = self._prior.leader(group[0])
        return AFTER_AN_ENGINE if lead is None else AFTER_ITS_ENGINE if lead in engines else AFTER_ANOTHERS

    def _behind(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """A throat is clear behind an engine that came in by it: what goes with it, and no detector or reader tells of, has
        come in with it, be it from the throat or from the section."""
        yard, throat, found = self._yard, self._stretch, [hypothesis]
        if throat in yard.plant.throats:
            found += [made for end in (0, 1) if (made := self._along(hypothesis, branches, throat, end)) is not None]
            limits = [b for b in yard.plant.at_stretch[throat] if b.outer in yard.plant.sections]
            for each in tuple(found):
                found += [made for b in limits if (made := self._along(each, branches, b.outer, b.end)) is not None]
        for each in found:
            branches.add(each)

    def _along(self, hypothesis: Hypothesis, branches: Branches, start: str, end: int) -> Hypothesis | None:
        """The foremost at an end of a stretch have gone after their engine, which is on a road; or, then, they have not."""
        row = hypothesis.stands.row(start, end)
        yard, plant = self._yard, self._yard.plant
        lead = self._prior.leader(row[0]) if row and row[0] not in yard.engines else None
        goal = hypothesis.stands.place(lead) if lead is not None else OFF
        way = yard.way(start, goal, "") if goal in plant.roads else None
        if not way or way[-1].throat != self._stretch or len(way) > 2 or way[0].end_at(start) != end:
            return None
        group = tuple(takewhile(lambda v: self._prior.leader(v) == lead, row))
        chance = CAME_ALONG + sum(yard.all_unread(group, step.id) for step in way)
        made = None
        if branches.worth(hypothesis.weight + chance):
            made = hypothesis.branch(chance)
            for step in way:
                made.stands.cross(group, step, step.outer == goal, self._t)
            made.unread += yard.passed_unread(group, way)
        hypothesis.weight += STAYED_BEHIND
        return made
