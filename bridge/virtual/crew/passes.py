"""How real crews shunt: out to the neck with what is to be left, down the sidings for what is to be taken, and back.

Rule: procedures, tried one after another on paper, never a search. The one with the fewest movements is taken; where none
can be, the vehicle that it fails for is left out with the reason, and the rest is tried again.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from itertools import permutations

from bridge.virtual.crew.stacks import CannotError, Sheet, Step, Yard

SOURCES_TURNED = 3  # of so many sidings every order is tried


@dataclass(frozen=True, slots=True)
class Onward:
    """A road on which the train is booked later; `gone`: the vehicles that it is to have set out by then."""

    road: str
    length_mm: float
    gone: frozenset[str]


@dataclass(frozen=True, slots=True)
class Wish:
    """What a pass is to bring about. `train`: the vehicles of the train, nearest first, on top of `train_road`'s stack.

    `goes`: vehicle to the road it goes to, "" for the train. The train is left on `home`, usually the road it is on.
    `onward`: what it is to fit on at its later calls. `takes_along`: so many of its first vehicles are to stand nearest
    again, though that may take a movement more.
    """

    train_road: str
    train: tuple[str, ...]
    home: str
    goes: Mapping[str, str]
    engine_mm: float
    takes_along: int = 0
    onward: tuple[Onward, ...] = ()
    in_one_go: bool = True


@dataclass(frozen=True, slots=True)
class Planned:
    """The movements of a pass; `left_out`: vehicles that it does nothing for, each with the reason."""

    steps: tuple[Step, ...]
    goes: Mapping[str, str]
    left_out: Mapping[str, str]


def plan(yard: Yard, wish: Wish) -> Planned:
    """The movements for as much of a wish as can be; never fails, but may leave everything out."""
    goes = dict(wish.goes)
    left_out: dict[str, str] = {}
    while goes:
        found, why = _best(yard, wish, goes)
        if found is not None:
            return Planned(tuple(found.steps), goes, left_out)
        assert why is not None
        blamed = why.vehicle if why.vehicle in goes else next(reversed(goes))
        left_out[blamed or ""] = str(why)
        del goes[blamed or ""]
    return Planned((), {}, left_out)


def _best(yard: Yard, wish: Wish, goes: Mapping[str, str]) -> tuple[Sheet | None, CannotError | None]:
    shunt = _Shunt(yard, wish, goes)
    best: Sheet | None = None
    why: CannotError | None = None
    ways: list[Callable[[tuple[str, ...]], Sheet]] = [shunt.set_outs_first, shunt.lifts_first]
    if wish.in_one_go:
        ways.insert(0, shunt.all_at_once)
    for sources in shunt.orders():
        for way in ways:
            try:
                sheet = way(sources)
            except CannotError as error:
                why = error
            else:
                if best is None or _cost(sheet, wish) < _cost(best, wish):
                    best = sheet
    return best, why


def _cost(sheet: Sheet, wish: Wish) -> tuple[bool, int, int]:
    along = wish.train[: wish.takes_along]
    return sheet.stacks[wish.home][: len(along)] != along, len(sheet.steps), sheet.handled


class _Shunt:
    """The procedures for one wish."""

    def __init__(self, yard: Yard, wish: Wish, goes: Mapping[str, str]) -> None:
        self._yard, self._wish, self._goes = yard, wish, goes
        self._stood = {vehicle: road for road, stack in yard.stacks.items() for vehicle in stack}
        self._train = frozenset(wish.train)

    def orders(self) -> list[tuple[str, ...]]:
        """The sidings from which something is taken, in the orders in which that may be done."""
        sources = [
            road
            for road, stack in self._yard.stacks.items()
            if road != self._wish.train_road and any(vehicle in self._goes for vehicle in stack)
        ]
        return list(permutations(sources)) if len(sources) <= SOURCES_TURNED else [tuple(sources)]

    def all_at_once(self, sources: tuple[str, ...]) -> Sheet:
        """Everything is drawn out before anything is put back."""
        sheet = Sheet(self._yard)
        for road in (self._wish.train_road, *sources):
            sheet.pull(road, self._depth(sheet, road))
        sheet.put_back(self._goes_to)
        return self._finished(sheet)

    def set_outs_first(self, sources: tuple[str, ...]) -> Sheet:
        """Road by road, the train first."""
        return self._by_roads((self._wish.train_road, *sources))

    def lifts_first(self, sources: tuple[str, ...]) -> Sheet:
        """Road by road, the train last: where only what is lifted makes room for what is set out."""
        return self._by_roads((*sources, self._wish.train_road))

    def _by_roads(self, roads: tuple[str, ...]) -> Sheet:
        sheet = Sheet(self._yard)
        for road in roads:
            self._sort(sheet, road, self._depth(sheet, road))
        return self._finished(sheet)

    def _finished(self, sheet: Sheet) -> Sheet:
        home = self._wish.home
        amiss = next((v for v in self._goes if v not in sheet.stacks[self._goes_to(v)]), None)
        if amiss is not None:
            raise CannotError(f"{amiss} stands behind what has to be put back first", amiss)
        self._refuse_too_long(sheet.stacks[home], home, self._yard.room_mm[home])
        train = {*self._train, *self._goes} - {vehicle for vehicle, road in self._goes.items() if road}
        for later in self._wish.onward:
            self._refuse_too_long(train - later.gone, later.road, later.length_mm)
        return sheet

    def _refuse_too_long(self, vehicles: Collection[str], road: str, holds_mm: float) -> None:
        """Refuse a lift that makes the train too long for a road."""
        whole_mm = self._yard.length_of(vehicles) + self._wish.engine_mm
        lifted = next((v for v, to in self._goes.items() if not to and v not in self._train and v in vehicles), None)
        if whole_mm > holds_mm + 1e-6 and lifted is not None:
            raise CannotError(
                f"with {lifted} the train would be {whole_mm:.0f} mm long, and {road} holds {holds_mm:.0f} mm", lifted
            )

    def _depth(self, sheet: Sheet, road: str) -> int:
        """How far down a road, as it stands now, the deepest vehicle is that is to go elsewhere."""
        wish = self._wish
        along = min(wish.takes_along, len(wish.train)) if road == wish.train_road and not sheet.steps else 0
        stack = enumerate(sheet.stacks[road], 1)
        return max((n for n, vehicle in stack if self._goes_to(vehicle) != road), default=along)

    def _goes_to(self, vehicle: str) -> str:
        if vehicle in self._goes:
            return self._goes[vehicle] or self._wish.home
        return self._wish.home if vehicle in self._train else self._stood[vehicle]

    def _sort(self, sheet: Sheet, road: str, depth: int) -> None:
        """Take so many off a road and put each where it goes, in as many goes as the neck needs."""
        parts = self._parts(sheet, road, depth)
        if len(parts) <= 1:
            sheet.pull(road, depth)
            sheet.put_back(self._goes_to)
            return
        aside = self._aside(sheet, road, depth - parts[-1], depth)
        parked = []
        for count in parts[:-1]:
            sheet.pull(road, count)
            groups = sheet.put_back(lambda v: aside if self._goes_to(v) == road else self._goes_to(v))
            parked.append(sum(n for where, n in groups if where == aside))
        sheet.pull(road, parts[-1])
        sheet.put_back(self._goes_to)
        for count in reversed(parked):
            sheet.pull(aside, count)
            sheet.push(road, count)

    def _parts(self, sheet: Sheet, road: str, depth: int) -> list[int]:
        """The vehicles to be taken, cut into as many parts as the neck can hold one after another."""
        parts: list[int] = []
        length_mm = 0.0
        for vehicle in sheet.stacks[road][:depth]:
            own_mm = self._yard.length_mm[vehicle]
            if parts and length_mm + own_mm <= self._yard.neck_mm + 1e-6:
                parts[-1] += 1
                length_mm += own_mm
            else:
                parts.append(1)
                length_mm = own_mm
        return parts

    def _aside(self, sheet: Sheet, road: str, count: int, depth: int) -> str:
        """A road on which what is in the way can stand for a while."""
        waiting = [v for v in sheet.stacks[road][:count] if self._goes_to(v) == road]
        wanted = {road, self._wish.home, *map(self._goes_to, sheet.stacks[road][:depth])}
        for other in sorted(sheet.stacks, key=lambda r: len(sheet.stacks[r])):
            if other not in wanted and sheet.fits(other, waiting):
                return other
        deepest = next((v for v in reversed(sheet.stacks[road]) if v in self._goes), None)
        raise CannotError(
            f"{self._yard.neck} is too short to draw out all that stands before {deepest} on {road} at once, and no other"
            " road is free to put it on meanwhile",
            deepest,
        )
