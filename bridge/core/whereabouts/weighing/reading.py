"""A tag read: the ways in which its vehicle can have come to the reader, from where each hypothesis has it.

Rule: a vehicle that is read goes over the boundary, or comes to it and back. All that stood before it have gone before it,
unread; or they had been left somewhere earlier; or the order was another. Hypotheses mostly differ elsewhere: what a passing
takes is found once for all of those that have the same vehicles before it and the same engines beside it.
"""

from __future__ import annotations

from math import log
from typing import NamedTuple

from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior
from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.absence import Leaving, Placed
from bridge.core.whereabouts.weighing.afar import Afar
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.crossing import VEHICLE, Going, Line, Passed, going
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis, Unread
from bridge.core.whereabouts.weighing.known import Known
from bridge.core.whereabouts.weighing.yard import Ends, Yard

NONE: frozenset[str] = frozenset()


class _Walk(NamedTuple):
    """What it takes that all before the vehicle go over the boundary, and it goes over too (`crossed`) or comes to it and
    goes back (`touched`). `moved`: whether an engine moves them; None where none is beside them, and others have to be asked
    for; `more`: what else speaks for it or against; `others`: where some are before it, what else there may be to that."""

    unread: tuple[Unread, ...]
    chance: float
    moved: float | None
    more: float
    crossed: Going
    touched: Going
    others: _Others | None


class _Others(NamedTuple):
    """Some stand before the vehicle. `placed`: those of them that can have been left where they stood; `alone`: how likely
    it is that it goes over alone, as if they stood behind it, and `moved` whether an engine moves it then, as in `_Walk`."""

    placed: Placed
    alone: float
    moved: float | None


class _Side(NamedTuple):
    """What is the same of every passing one way: whence and where to it leads, how likely it is that the vehicle goes over
    the boundary or comes to it and goes back, and what has passed there last then."""

    ends: Ends
    crosses: float
    touches: float
    crossed: Passed
    touched: Passed


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
        self._leaving, self._is_again, self._known = Leaving(yard, prior, boundary, known, t), is_again, known
        self._ghost = c.ECHO if is_echo else c.GHOST
        self._again_s = c.AGAIN_S if len(yard.stock[vehicle].tags) < 2 else c.AGAIN_BOTH_S
        self._is_engine, self._is_limit = vehicle in yard.engines, boundary.outer in yard.plant.sections
        self._subject, self._sides = VEHICLE + vehicle, dict[bool, _Side]()
        self._walks: dict[tuple[bool, Line, frozenset[str], bool, bool], _Walk] = {}
        self._far: Afar | None = None
        missed = yard.quality.missed(boundary.id)
        self._read = 0.0 if missed is None else log(1.0 - missed)

    def explain(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """All that may follow from a hypothesis."""
        boundary, vehicle, stands = self._boundary, self._vehicle, hypothesis.stands
        last = stands.own.get(boundary.id) or stands.last_at(boundary.id)
        if last is not None and last.vehicle == vehicle and self._t - last.t < self._again_s:
            branches.grow(hypothesis, 0.0).stands.note(vehicle, boundary, last.outward, self._t, last.touched)
            return
        if self._is_again:
            branches.add(hypothesis)
            return
        place = stands.own.get(self._subject) or stands.place(vehicle)
        if place == boundary.throat:
            self._at_hand(hypothesis, branches, last, outward=True)
        elif place == boundary.outer:
            self._at_hand(hypothesis, branches, last, outward=False)
        elif place == OFF:
            self._from_nowhere(hypothesis, branches)
        else:
            if self._far is None:
                self._far = Afar(self._yard, self._prior, vehicle, boundary, self._t, self._leaving, self._read)
            self._far.explain(hypothesis, branches, place)
        hypothesis.weight += self._ghost
        branches.add(hypothesis)

    def _at_hand(self, hypothesis: Hypothesis, branches: Branches, last: Passed | None, *, outward: bool) -> None:
        stands, weight = hypothesis.stands, hypothesis.weight
        side = self._sides.get(outward) or self._side(outward)
        start, end, goal, _ = side.ends
        row, there = stands.own.get(start) or stands.line(start), stands.own.get(goal) or stands.line(goal)
        walk = self._walk(row, there, end, last, outward)
        moved = walk.moved
        if moved is None:
            moved = self._moved_from_beyond(stands, walk.crossed.group, outward)
        chance = walk.chance + (moved + walk.more)
        crosses, touches = weight + (chance + side.crosses), weight + (chance + side.touches)
        others = walk.others
        if others is not None:
            crossed = Hypothesis(stands.gone(walk.crossed, row, there), crosses, hypothesis.held, walk.unread)
            branches.add(crossed)
            self._leaving.before(crossed, others.placed, branches)
            self._out_of_order(hypothesis, branches, others, outward)
        elif branches.worth(crosses):
            branches.add(Hypothesis(stands.gone(walk.crossed, row, there), crosses, hypothesis.held, walk.unread))
        if branches.worth(touches):
            branches.add(Hypothesis(stands.gone(walk.touched, row, there), touches, hypothesis.held, walk.unread))

    def _side(self, outward: bool) -> _Side:
        vehicle, t, touches = self._vehicle, self._t, c.TOUCHES
        if outward and self._is_limit:
            touches = c.TOUCHES_LIMIT
        elif outward and self._is_engine:
            touches = c.ENGINE_TOUCHES
        crossed, touched = Passed(vehicle, outward, t), Passed(vehicle, not outward, t, touched=True)
        ends = self._yard.ends(self._boundary, outward)
        side = self._sides[outward] = _Side(ends, log(1.0 - touches), log(touches), crossed, touched)
        return side

    def _walk(self, row: Line, there: Line, end: int, last: Passed | None, outward: bool) -> _Walk:
        """The vehicle, and all before it in its line, over the boundary, of which this is the last."""
        index, t = row.index(self._vehicle), self._t
        ahead = row[:index] if end == 0 else row[:index:-1]
        engines = NONE if self._is_engine else self._yard.engines.intersection(row + there)
        is_soon, turns = False, False
        if last is not None:
            is_soon = last.touched and last.vehicle == self._vehicle and t - last.t < c.SOON_S
            turns = self._is_limit and last.outward is not outward and t - last.t < c.LATELY_S
        key = (outward, ahead, engines, is_soon, turns)
        walk = self._walks.get(key)
        if walk is None:
            walk = self._walks[key] = self._walked(*key)
        return walk

    def _moved_from_beyond(self, stands: Arrangement, group: Line, outward: bool) -> float:
        return moving.moved_from_beyond(self._yard, self._prior, stands, group, self._boundary, outward)

    def _walked(self, outward: bool, ahead: Line, engines: frozenset[str], is_soon: bool, turns: bool) -> _Walk:
        """The same, as it depends on who is before the vehicle, the engines on both sides of the boundary, and whether the
        vehicle has come there a moment ago, or what passed last went the other way."""
        yard, prior, boundary, side = self._yard, self._prior, self._boundary, self._sides[outward]
        start, group = side.ends[0], (*ahead, self._vehicle)
        moved: float | None = 0.0
        if yard.engines.isdisjoint(group):
            moved = moving.moved_from_beside(yard, prior, group, engines)
        more = moving.turned(yard, prior, group, boundary, outward, turns=turns) if self._is_limit else 0.0
        return _Walk(
            tuple([Unread(v, boundary.id) for v in ahead]),
            self._read + yard.all_unread(ahead, boundary.id),
            moved,
            c.COMES_AGAIN + more if is_soon else more,
            going(group, side.ends, boundary.id, side.crossed),
            going(ahead, side.ends, boundary.id, side.touched),
            self._others(start, ahead, engines) if ahead else None,
        )

    def _others(self, start: str, ahead: Line, engines: frozenset[str]) -> _Others:
        """Some stand before the vehicle: they had been left there, or stood behind it."""
        yard, vehicle = self._yard, self._vehicle
        placed = tuple([(other, start) for other in ahead if other not in yard.engines])
        order = c.OUT_OF_ORDER if start in yard.plant.roads else c.OUT_OF_TRAIN_ORDER
        if self._known.went_in_behind(vehicle, ahead, self._boundary.id):
            order = c.OUT_OF_READ_ORDER
        moved: float | None = 0.0
        if not self._is_engine:
            moved = moving.moved_from_beside(yard, self._prior, (vehicle,), engines.difference(ahead))
        return _Others(placed, self._read + order, moved)

    def _out_of_order(self, hypothesis: Hypothesis, branches: Branches, others: _Others, outward: bool) -> None:
        """It goes over the boundary alone: those before it stood behind it."""
        moved = others.moved
        if moved is None:
            moved = self._moved_from_beyond(hypothesis.stands, (self._vehicle,), outward)
        if branches.worth(hypothesis.weight + (others.alone + moved)):
            other = branches.grow(hypothesis, others.alone + moved)
            other.stands.cross((self._vehicle,), self._boundary, outward, self._t)

    def _from_nowhere(self, hypothesis: Hypothesis, branches: Branches) -> None:
        """A vehicle that was off the layout has been put on it."""
        for outward in (True, False):
            made = hypothesis.branch(self._read + log(0.5))
            made.stands.cross((self._vehicle,), self._boundary, outward, self._t)
            branches.add(made)
