"""A stretch has become occupied: what can have come on to it, where a hypothesis has nothing there.

Rule: something comes from the stretch beside, or from one beyond the throat, and an engine takes it; a hypothesis in which
nothing came is kept too, as a detector may be wrong.
"""

from __future__ import annotations

from itertools import takewhile
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving, unseen_run
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import Yard

FROM_BESIDE = log(0.8)
FROM_BEYOND = log(0.5)
DRAWN_OUT_AND_BACK = log(0.3)  # out of a road into the throat, and back on to another: running round
INTO_THROAT = log(0.6)
PUSHED_FIRST = log(0.7)  # an engine pushes wagons on to a road
BROUGHT_BACK = log(0.6)
PUT_ASIDE, ON_ITS_ROAD, ON_ANOTHER = log(0.3), log(0.7), log(0.15)
FROM_SECTION = log(0.5)  # out of a section into a throat: its own reader or treadle would mostly have told


class Occupying:
    """One stretch that has become occupied, explained by one hypothesis after another. `idle`: the throats beside it in
    which nothing had been seen for long before."""

    def __init__(self, yard: Yard, prior: Prior, stretch: str, t: float, idle: frozenset[str] = frozenset()) -> None:
        self._yard, self._prior, self._stretch, self._t, self._idle = yard, prior, stretch, t, idle

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis."""
        if any(self._yard.works_detectors(v) for v in hypothesis.stands.line(self._stretch)):
            branches.add(hypothesis)
        elif self._stretch in self._yard.plant.throats:
            self._into_throat(hypothesis, branches)
        else:
            for mouth in self._yard.mouths(self._stretch):
                self.by(hypothesis, branches, mouth)
                self._from_afar(hypothesis, branches, mouth.throat)
                if self._stretch in self._yard.sidings:
                    self._brought_back(hypothesis, branches, mouth)
            hypothesis.weight += c.FALSELY_OCCUPIED
            branches.add(hypothesis)

    def by(self, hypothesis: Hypothesis, branches: Branches, mouth: Boundary, engine_first: bool = False) -> None:
        """By one boundary on to the stretch: what is in the throat, or what can come through it."""
        yard, prior, stands, stretch = self._yard, self._prior, hypothesis.stands, self._stretch
        chance = moving.points(prior, mouth) + (c.SETS_OFF if mouth.throat in self._idle else 0.0)
        inside = stands.outermost(mouth.throat, mouth.throat_end)
        if inside is not None:
            if engine_first and inside not in yard.engines:
                return
            chance += FROM_BESIDE + yard.unread(inside, mouth.id) + moving.booked(yard, prior, inside, stretch)
            chance += moving.moved_by(yard, prior, stands, (inside,), mouth, outward=True)
            chance += 0.0 if inside in yard.engines else PUSHED_FIRST
            self._over(hypothesis, branches, (mouth,), inside, chance)
            if inside not in yard.engines:
                self._after_putting_aside(hypothesis, branches, mouth)
            return
        if prior.stretch_state(mouth.throat) == "clear":
            chance += c.AGAINST_CLEAR
        for other in yard.plant.at_stretch[mouth.throat]:
            if other is mouth or other.throat != mouth.throat:
                continue
            first, leading = self._leaving(hypothesis, other)
            if first is None or leading is None or (engine_first and first != leading):
                continue
            more = FROM_BEYOND if other.throat_end != mouth.throat_end else DRAWN_OUT_AND_BACK
            more += yard.unread(first, mouth.id) + moving.booked(yard, prior, leading, stretch)
            self._over(hypothesis, branches, (other, mouth), first, chance + more + self._leaves(other, first, leading))

    def _after_putting_aside(self, hypothesis: Hypothesis, branches: Branches, mouth: Boundary) -> None:
        """An engine in the throat has put what was before it on to a road that was occupied already, and has come alone."""
        yard, prior, stands = self._yard, self._prior, hypothesis.stands
        row = stands.row(mouth.throat, mouth.throat_end)
        engine = moving.engine_of(yard, row)
        if engine is None:
            return
        group = row[: row.index(engine)]
        for aside in yard.beyond(mouth.throat, mouth.throat_end):
            if aside is mouth or aside.outer not in yard.plant.roads or prior.stretch_state(aside.outer) == "clear":
                continue
            chance = PUT_ASIDE + moving.points(prior, mouth) + yard.unread(engine, mouth.id)
            chance += moving.booked(yard, prior, engine, self._stretch)
            chance += yard.all_unread(group, aside.id)
            chance += ON_ITS_ROAD if prior.call_road(engine) == aside.outer else ON_ANOTHER
            if branches.worth(hypothesis.weight + chance):
                made = hypothesis.branch(chance)
                made.stands.cross(group, aside, outward=True, t=self._t)
                made.stands.cross((engine,), mouth, outward=True, t=self._t)
                made.unread = (*yard.passed_unread(group, (aside,)), *yard.passed_unread((engine,), (mouth,)))
                branches.add(made)

    def _brought_back(self, hypothesis: Hypothesis, branches: Branches, mouth: Boundary) -> None:
        """What had been drawn off a siding with another, and is not booked anywhere, has been put back there, the engine
        behind it."""
        stands, plant = hypothesis.stands, self._yard.plant
        beside = [b for b in plant.at_stretch[mouth.throat] if b is not mouth and b.outer in plant.roads]
        places = [(mouth.throat, mouth.throat_end)] + [(b.outer, b.end) for b in beside if b.throat_end == mouth.throat_end]
        for place, end in places:
            row = stands.row(place, end)
            outer = tuple(takewhile(lambda v: v in self._yard.engines, row)) if place != mouth.throat else ()
            group = tuple(takewhile(self._belongs, row[len(outer) :]))
            behind = row[len(outer) + len(group) :]
            if not group or not (outer or any(v in self._yard.engines for v in (*behind, *stands.line(mouth.throat)))):
                continue
            chance = BROUGHT_BACK + moving.points(self._prior, mouth)
            chance += self._yard.all_unread(group, mouth.id)
            if branches.worth(hypothesis.weight + chance):
                made = hypothesis.branch(chance)
                for vehicle in group if place == mouth.throat else group[::-1]:
                    made.stands.put(vehicle, self._stretch, mouth.end)
                for engine in outer:
                    made.stands.put(engine, mouth.throat, mouth.throat_end)
                made.stands.note(group[-1] if place == mouth.throat else group[0], mouth, True, self._t)
                branches.add(made)

    def _belongs(self, vehicle: str) -> bool:
        """True for a vehicle that came off the stretch at this call, and is not booked elsewhere."""
        return self._prior.drawn_from(vehicle) == self._stretch and self._prior.booked_to(vehicle) in (None, self._stretch)

    def _into_throat(self, hypothesis: Hypothesis, branches: Branches) -> None:
        if self._ran_through(hypothesis):
            branches.add(hypothesis)
            return
        for mouth in self._yard.plant.at_stretch[self._stretch]:
            first, leading = self._leaving(hypothesis, mouth)
            if first is None or leading is None or mouth.throat != self._stretch:
                continue
            chance = INTO_THROAT + self._leaves(mouth, first, leading)
            chance += FROM_SECTION if mouth.outer in self._yard.plant.sections else 0.0
            self._over(hypothesis, branches, (mouth,), first, chance)
        self._from_afar(hypothesis, branches, self._stretch)
        hypothesis.weight += c.THROAT_FOULED
        branches.add(hypothesis)

    def _from_afar(self, hypothesis: Hypothesis, branches: Branches, throat: str) -> None:
        if self._stretch not in self._yard.plant.sections:
            unseen_run.explain(self._yard, self._prior, hypothesis, branches, throat, self._stretch, self._t)

    def _ran_through(self, hypothesis: Hypothesis) -> bool:
        """True where something has gone out through the throat since that became occupied: it was what came, and its train
        may still be following."""
        limits = [b for b in self._yard.plant.at_stretch[self._stretch] if b.outer in self._yard.plant.sections]
        passed = [hypothesis.stands.last_at(b.id) for b in limits]
        return any(last is not None and last.outward and last.t >= self._t for last in passed)

    def _leaving(self, hypothesis: Hypothesis, mouth: Boundary) -> tuple[str | None, str | None]:
        """What would come first off a road or section by one of its ends, and the first engine there."""
        row = hypothesis.stands.row(mouth.outer, mouth.end)
        return (row[0] if row else None), moving.engine_of(self._yard, row)

    def _leaves(self, mouth: Boundary, first: str, leading: str) -> float:
        """The chance that it has left by there."""
        chance = self._yard.unread(first, mouth.id) + moving.points(self._prior, mouth)
        chance += 0.0 if first == leading else c.NOT_LEADING
        chance += moving.bound_for(self._prior, leading, mouth.throat, self._yard)
        return chance + (0.0 if self._prior.awake(leading) else c.ASLEEP)

    def _over(
        self, hypothesis: Hypothesis, branches: Branches, steps: tuple[Boundary, ...], vehicle: str, chance: float
    ) -> None:
        if not branches.worth(hypothesis.weight + chance):
            return
        if (
            self._stretch in self._yard.sidings
            and vehicle in self._yard.engines
            and not hypothesis.stands.line(self._stretch)
        ):
            chance += c.FOR_NOTHING
        made = hypothesis.branch(chance)
        for step in steps:
            outward = made.stands.place(vehicle) == step.throat
            made.stands.cross((vehicle,), step, outward, self._t)
        made.unread += self._yard.passed_unread((vehicle,), steps)
        branches.add(made)
