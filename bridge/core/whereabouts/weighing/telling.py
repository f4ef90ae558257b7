"""What an operator has seen, and told: it stands, whatever was thought before.

Rule: where a hypothesis has it so already, that one is borne out; in another something has happened that nothing told of,
and that is seldom. So one look settles all that hangs together with it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import log

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import Yard

BY_HAND = log(0.001)  # a vehicle was taken somewhere else and nothing told of it
RESHUFFLED = log(0.02)  # it stands in another order than was thought
GIVEN_BACK_THERE = log(0.05)  # what lets a train into a section was given back, and its engine has not come out


class Looking:
    """A vehicle stands at a place. `order`: from 1 at end 0; None where only the place was told."""

    def __init__(self, yard: Yard, vehicle: str, place: str, order: int | None) -> None:
        self._yard, self._vehicle, self._place, self._order = yard, vehicle, place, order

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """What a hypothesis comes to."""
        vehicle, place, stands = self._vehicle, self._place, hypothesis.stands
        was = stands.place(vehicle)
        row = stands.line(place) if place != OFF else ()
        if was == place and (self._order is None or place == OFF or row.index(vehicle) == self._order - 1):
            branches.add(hypothesis)
            return
        made = hypothesis.branch(RESHUFFLED if was == place else BY_HAND)
        if place == OFF:
            made.stands.put(vehicle, OFF, 1)
        elif self._order is not None:
            made.stands.insert(vehicle, place, min(self._order - 1, len(row)))
        else:
            made.stands.put(vehicle, place, self._end(was))
        branches.add(made)

    def _end(self, was: str) -> int:
        """At which end it stands: the one nearest its old place, or the open one."""
        plant, place = self._yard.plant, self._place
        way = self._yard.way(was, place, "") if was != OFF else None
        if way:
            return way[-1].end_at(place)
        road = plant.roads.get(place)
        return 0 if road is not None and road.open[0] == "up" else 1


class GivenBack:
    """What lets an engine's train into a section has been given back, or laid down at one end: it is not there any more
    (`left`: the section, and all of the other end's station where it was laid down)."""

    def __init__(self, engine: str, left: Collection[str]) -> None:
        self._engine, self._left = engine, left

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """What a hypothesis comes to."""
        if hypothesis.stands.place(self._engine) in self._left:
            hypothesis.weight += GIVEN_BACK_THERE
        branches.add(hypothesis)


class Arriving:
    """An engine has come to a road or section, with what ran with it in the order in which it ran. `rake`: those that go
    with it."""

    def __init__(self, yard: Yard, engine: str, goal: str, rake: Sequence[str], t: float) -> None:
        self._yard, self._engine, self._goal, self._rake, self._t = yard, engine, goal, rake, t

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """What a hypothesis comes to."""
        yard, engine, goal = self._yard, self._engine, self._goal
        start = hypothesis.stands.place(engine)
        if start == goal:
            branches.add(hypothesis)
            return
        made = hypothesis.branch(BY_HAND)
        way = yard.way(start, goal, "") if start != OFF else None
        if not way:
            made.stands.put(engine, goal, 1)
            branches.add(made)
            return
        first, last = way[0], way[-1]
        row = hypothesis.stands.row(start, first.end_at(start))
        running = [v for v in row if v in self._rake] if start not in yard.plant.roads else [engine]
        behind = [v for v in self._rake if v not in running and hypothesis.stands.place(v) not in (*yard.plant.roads, OFF)]
        for vehicle in (*running, *(behind if start not in yard.plant.roads else ())):
            made.stands.put(vehicle, goal, last.end_at(goal))
        made.stands.note(engine, last, last.outer == goal, self._t)
        branches.add(made)
