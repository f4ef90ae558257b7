"""What was not read: vehicles that should have come past a reader with others, and did not tell.

Rule: a vehicle that goes unread between others was missed by the reader, or was not there: left at the station where it was
last read, on the road where it is booked to stay or on some other. Once nothing more is read at a reader for a while, the
next in line may have followed unread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import exp, log
from typing import NamedTuple

from bridge.core.plant import Boundary
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis, Unread
from bridge.core.whereabouts.weighing.known import NEVER, Known
from bridge.core.whereabouts.weighing.yard import Yard

LEFT_WHERE_BOOKED = 0.5
LEFT_IN_A_SIDING = 0.02
LEFT_ON_A_ROAD = 0.01
LEFT_WHERE_BELIEVED = 0.04
PUT_ASIDE = 0.15  # from a throat on to a road for trains there, out of the way
TOGETHER = log(0.6)  # what is left goes with the one beside it
BOOKED, ASIDE, BELIEVED = log(LEFT_WHERE_BOOKED), log(PUT_ASIDE), log(LEFT_WHERE_BELIEVED)
LEAVES_S, SO_SOON = 3.0, 0.01  # it takes longer than that after a read to go back and leave a vehicle on some other road
LIKELIEST = 2  # so many places are weighed
BEFORE_S = 2.0  # what passed so long before it has become quiet was closed before, or was no passing
MOST_UNREAD = 4  # of more that went unread at once, the rest are taken together only


_Stand = tuple[str, str, int]
"""A vehicle, the road on which it was left, and by which end."""
Placed = tuple[tuple[str, str], ...]
"""Vehicles without an engine, each with the stretch on which it was before."""


class _Gone(NamedTuple):
    """Some of those that were not read had been left before: by how much that is likelier than that they passed unread; how
    likely the likeliest place is at most; who has passed unread then; and where these were believed."""

    back: float
    most: float
    rest: tuple[Unread, ...]
    placed: Placed


class Leaving:
    """Where those can have been left that were not read when others passed a boundary, as things stand at one read (`t`).

    Hypotheses differ little in where they have such a vehicle, and nothing else tells them apart here: where it can have
    been left is found once a read.
    """

    def __init__(self, yard: Yard, prior: Prior, boundary: Boundary, known: Known, t: float) -> None:
        self._yard, self._prior, self._boundary, self._known, self._t = yard, prior, boundary, known, t
        self._chances: dict[tuple[str, str], dict[str, float]] = {}
        self._where: dict[Placed, list[tuple[list[_Stand], float]]] = {}
        self._gone: dict[tuple[tuple[Unread, ...], Placed], list[_Gone]] = {}

    def before(self, made: Hypothesis, placed: Placed, branches: Branches) -> None:
        """The same as `made`, but one of those that it takes to have passed unread, or all of them, had been left before;
        `placed`: where these stood then."""
        gone = self._gone.get((made.unread, placed))
        if gone is None:
            gone = self._gone[made.unread, placed] = self._taken_back(made.unread, placed)
        for back, most, rest, some in gone:
            if not branches.worth(made.weight + back + most):
                continue
            for standing, chance in self._left_where(some):
                if branches.worth(made.weight + (back + chance)):
                    other = branches.grow(made, back + chance)
                    other.unread = rest
                    for vehicle, place, end in standing:
                        other.stands.put(vehicle, place, end)

    def _taken_back(self, unread: tuple[Unread, ...], placed: Placed) -> list[_Gone]:
        """Each of these, and all of them, if they are not too many, taken for left before."""
        if not placed or len(placed) > 2 * MOST_UNREAD:
            return []
        passed: dict[str, list[str]] = {}
        for vehicle, boundary in unread:
            passed.setdefault(boundary, []).append(vehicle)
        passings = [(boundary, group, self._yard.all_unread(group, boundary)) for boundary, group in passed.items()]
        sets = [(row,) for row in placed[:MOST_UNREAD]] + ([placed] if len(placed) > 1 else [])
        found = []
        for some in sets:
            gone = [vehicle for vehicle, _ in some]
            most = min([self._most(*row) for row in some]) + (len(some) - 1) * TOGETHER
            rest = tuple([each for each in unread if each.vehicle not in gone])
            found.append(_Gone(_taken_back(self._yard, passings, gone), most, rest, some))
        return found

    def _most(self, vehicle: str, believed: str) -> float:
        """How likely, at most, it is that a vehicle was left on any one road: found without asking for each."""
        goal, yard = self._prior.booked_to(vehicle), self._yard
        if goal not in (None, believed, self._boundary.outer) and yard.station_of(goal or "") == self._station(vehicle):
            return BOOKED
        return ASIDE if believed in yard.plant.throats else BELIEVED

    def _station(self, vehicle: str) -> str | None:
        """The station at which a vehicle can have been left: where it was read last."""
        return self._known.stations.get(vehicle) or self._yard.station_of(self._boundary.throat)

    def _left_where(self, gone: Placed) -> list[tuple[list[_Stand], float]]:
        """Where these can have been left, and how likely that is."""
        found = self._where.get(gone)
        if found is None:
            found = self._where[gone] = []
            for places, chance in self._ranked(gone):
                rows = zip(gone, places, strict=True)
                found.append(([(vehicle, place, self._end(place)) for (vehicle, _), place in rows], chance))
        return found

    def _end(self, road: str) -> int:
        """The end of a road at which something has been left on it."""
        mouths = self._yard.mouths(road)
        return next((b for b in mouths if b.throat == self._boundary.throat), mouths[0]).end

    def _ranked(self, gone: Sequence[tuple[str, str]]) -> Iterator[tuple[tuple[str, ...], float]]:
        """For one the likeliest few, for several one place for all or the likeliest of each."""
        rows = [self._places(*row) for row in gone]
        if not all(rows):
            return
        ranked = [sorted(row, key=lambda place, row=row: (-row[place], place)) for row in rows]  # type: ignore[misc]
        if len(rows) == 1:
            for place in ranked[0][:LIKELIEST]:
                yield (place,), log(rows[0][place])
            return
        each = tuple(row[0] for row in ranked)
        yield each, sum(log(row[place]) for row, place in zip(rows, each, strict=True))
        common = {place: min(row[place] for row in rows) for place in rows[0] if all(place in row for row in rows)}
        for place in sorted(common, key=lambda place: (-common[place], place))[:LIKELIEST]:
            if common[place] > 0.0:
                yield (place,) * len(rows), log(common[place]) + (len(rows) - 1) * TOGETHER

    def _places(self, vehicle: str, believed: str) -> dict[str, float]:
        found = self._chances.get((vehicle, believed))
        if found is None:
            found = self._chances[vehicle, believed] = dict(self._weighed(vehicle, believed))
        return found

    def _weighed(self, vehicle: str, believed: str) -> Iterator[tuple[str, float]]:
        """Each road on which it can have been left, and how likely that is."""
        yard, prior, plant = self._yard, self._prior, self._yard.plant
        station = self._station(vehicle)
        goal, out = prior.booked_to(vehicle), self._known.came_out_unread(vehicle, believed, yard)
        for road in plant.stations[station].roads if station is not None and station in plant.stations else ():
            if road == self._boundary.outer:
                continue  # where it is read, all of them would have been
            if road == believed:
                chance = LEFT_WHERE_BELIEVED
            elif road == goal:
                chance = LEFT_WHERE_BOOKED
            elif believed in plant.throats and road not in yard.sidings:
                chance = PUT_ASIDE
            else:
                chance = LEFT_IN_A_SIDING if road in yard.sidings else LEFT_ON_A_ROAD
            if road != believed and (mouths := yard.mouths(road)):
                chance *= exp(out + max([yard.unread(vehicle, mouth.id) for mouth in mouths]))
            if road != believed and self._t - self._known.reads.get(vehicle, NEVER)[1] < LEAVES_S:
                chance *= SO_SOON
            if prior.stretch_state(road) == "clear" and yard.stock[vehicle].detected:
                chance *= 0.01
            yield road, chance


def _taken_back(yard: Yard, passings: Iterable[tuple[str, Sequence[str], float]], gone: Sequence[str]) -> float:
    """By how much it is likelier that some have not passed unread, of all that have: `passings` are each boundary, who has
    passed there, and how likely that is."""
    back = 0.0
    for boundary, group, unread in passings:
        rest = [vehicle for vehicle in group if vehicle not in gone]
        if len(rest) < len(group):
            back += yard.all_unread(rest, boundary) - unread
    return back


def close(
    yard: Yard, prior: Prior, hypothesis: Hypothesis, boundary: Boundary, since_t: float, t: float, branches: Branches
) -> None:
    """It has been quiet at a boundary since a moment: the next in line has stayed where it was, or has followed unread."""
    last = hypothesis.stands.last_at(boundary.id)
    if last is None or last.t < since_t - BEFORE_S:
        branches.add(hypothesis)
        return
    start, end, goal, _ = yard.ends(boundary, last.outward)
    following = hypothesis.stands.outermost(start, end)
    if following is None or hypothesis.stands.place(last.vehicle) != goal:
        branches.add(hypothesis)
        return
    follows = _follows(yard, prior, hypothesis, following, start, goal)
    unread = exp(yard.unread(following, boundary.id))
    chance = log(follows * unread) + moving.set_down(yard, prior, goal, (following,))
    if branches.worth(hypothesis.weight + chance):
        more = hypothesis.branch(chance)
        more.stands.cross((following,), boundary, last.outward, t)
        more.unread = (Unread(following, boundary.id),) if yard.quality.has_reader(boundary.id) else ()
        branches.add(more)
    hypothesis.weight += log(1.0 - follows)
    branches.add(hypothesis)


def _follows(yard: Yard, prior: Prior, hypothesis: Hypothesis, vehicle: str, start: str, goal: str) -> float:
    """The chance that the next in line goes with those that have crossed."""
    plant, stands = yard.plant, hypothesis.stands
    if vehicle in yard.engines:
        return 0.3
    if goal in plant.sections:
        engine = moving.engine_of(yard, stands.line(goal)[::-1])
        if engine is None:
            return 0.02
        if prior.stays(vehicle, engine):
            return 0.1
        return 0.97 if start in plant.throats else 0.5
    if start in plant.sections:
        return 0.97
    if start in yard.sidings:
        engines = moving.engines_at(yard, stands, plant.station_of(start))
        if any(prior.keeps(vehicle, engine, start) for engine in engines):
            return 0.6
        return 0.6 if prior.wanted(vehicle) is not None else 0.07
    if goal in yard.sidings:
        return 0.6 if prior.booked_to(vehicle) == goal else 0.05
    return 0.3
