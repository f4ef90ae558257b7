"""What follows from how trains run: what goes with an engine has gone where it went, unless it was left.

Rule: a train that has departed has taken with it what goes with it; one behind which a section is clear has brought it all.
What is booked to stay, what a reader would have told of, and what a track detector still says, speak against.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import log

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import Yard

FOLLOWED, STAYED = log(0.97), log(0.03)
FOLLOWED_ALTHOUGH_BOOKED, STAYED_AS_BOOKED = log(0.1), log(0.9)
CAME_OUT, LEFT_ON_THE_LINE = log(0.98), log(0.02)
DONE_UNSEEN = 0.8
DRAWN_UNSEEN = 0.35  # a wagon that a train is to lift has been drawn off already, and stands on its road
STILL_OCCUPIED = log(0.05)  # a road still says occupied from which all is to have gone


class Departing:
    """An engine's train has departed into a section. `rake`: those that go with the engine."""

    def __init__(self, yard: Yard, prior: Prior, engine: str, section: str, rake: Sequence[str], t: float) -> None:
        self._yard, self._prior, self._engine, self._section, self._t = yard, prior, engine, section, t
        self._rake = rake

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """Those of its rake that a hypothesis has on its road or in the throat have followed, or stayed."""
        followed, chance, stayed = hypothesis.branch(0.0), 0.0, 0.0
        for way, group in self._behind(hypothesis.stands):
            stays = any(self._prior.stays(v, self._engine) for v in group)
            chance += FOLLOWED_ALTHOUGH_BOOKED if stays else FOLLOWED
            stayed += STAYED_AS_BOOKED if stays else STAYED
            start = way[0].outer
            if start in self._yard.plant.roads and self._prior.stretch_state(start) == "occupied":
                rest = [v for v in hypothesis.stands.line(start) if v not in group]
                chance += 0.0 if rest else STILL_OCCUPIED
            followed.unread += self._yard.passed_unread(group, way)
            for step in way:
                chance += self._yard.all_unread(group, step.id)
                followed.stands.cross(group, step, step.outer == self._section, self._t)
        if chance or stayed:
            followed.weight += chance
            if branches.worth(followed.weight):
                branches.add(followed)
            hypothesis.weight += stayed
        branches.add(hypothesis)

    def _behind(self, stands: Arrangement) -> Iterator[tuple[tuple[Boundary, ...], tuple[str, ...]]]:
        """What of the rake stands behind, the nearest first, with the way that it would have followed by."""
        here = stands.place(self._engine)
        rows: dict[str, tuple[tuple[Boundary, ...], list[str]]] = {}
        for vehicle in self._rake:
            place = stands.place(vehicle)
            if place in (self._section, here):
                continue
            way = self._yard.way(place, self._section, "")
            if way and len(way) <= 2:
                rows.setdefault(place, (way, []))[1].append(vehicle)
        for place in sorted(rows, key=lambda place: len(rows[place][0])):
            way, group = rows[place]
            yield way, tuple(v for v in stands.row(place, way[0].end_at(place)) if v in group)


class Gathering:
    """A section is clear behind an engine's train, or counts as clear. `rake`: those that go with the engine."""

    def __init__(
        self, yard: Yard, prior: Prior, engine: str, section: str, rake: Sequence[str], t: float, *, proved: bool
    ) -> None:
        self._yard, self._prior, self._engine, self._section, self._rake, self._t = yard, prior, engine, section, rake, t
        self._came_out = 0.0 if proved else CAME_OUT
        self._left = c.FALSELY_CLEAR if proved else LEFT_ON_THE_LINE

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """What a hypothesis still has in the section has come out behind the engine, or was left there. It stands with the
        engine where the throat between says clear."""
        stands, section = hypothesis.stands, self._section
        inside = [v for v in stands.line(section) if v in self._rake]
        here = stands.place(self._engine)
        way = self._yard.way(section, here, "") if inside and here != section else None
        if not way:
            branches.add(hypothesis)
            return
        mouth = way[0]
        row = stands.row(section, mouth.end)
        last = max(row.index(v) for v in inside)
        group = row[: last + 1]
        on = way[1:2] if self._prior.stretch_state(mouth.throat) == "clear" and not stands.line(mouth.throat) else ()
        chance = self._came_out + sum(self._yard.all_unread(group, step.id) for step in (mouth, *on))
        if branches.worth(hypothesis.weight + chance):
            made = hypothesis.branch(chance)
            made.stands.cross(group, mouth, False, self._t)
            for step in on:
                made.stands.cross(group, step, True, self._t)
            made.unread = self._yard.passed_unread(group, (mouth, *on))
            branches.add(made)
        hypothesis.weight += self._left
        branches.add(hypothesis)


class Resting:
    """An engine's train leaves a station, or is there as the session ends: what it was to put somewhere there may have been
    put there, where nothing would have told. `goals`: vehicle to the road it is booked to."""

    def __init__(self, yard: Yard, prior: Prior, goals: Mapping[str, str], done: float = DONE_UNSEEN) -> None:
        self._yard, self._prior, self._goals, self._done = yard, prior, goals, done

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All of it has been done, or nothing has."""
        stands, yard = hypothesis.stands, self._yard
        open_ = [v for v, goal in self._goals.items() if stands.place(v) not in (goal, OFF)]
        if not open_:
            branches.add(hypothesis)
            return
        done = hypothesis.branch(log(self._done))
        for vehicle in open_:
            goal, place = self._goals[vehicle], stands.place(vehicle)
            mouths = yard.mouths(goal)
            done.weight += max((yard.unread(vehicle, b.id) for b in yard.mouths(place)), default=0.0)
            if self._prior.stretch_state(place) == "occupied" and len(stands.line(place)) == 1:
                done.weight += STILL_OCCUPIED
            done.weight += max((yard.unread(vehicle, mouth.id) for mouth in mouths), default=0.0)
            done.weight += moving.set_down(yard, self._prior, goal, (vehicle,))
            done.stands.put(vehicle, goal, mouths[0].end if mouths else 1)
        if branches.worth(done.weight):
            branches.add(done)
        hypothesis.weight += log(1.0 - self._done)
        branches.add(hypothesis)
