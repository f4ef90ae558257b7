"""A whole railway folder grown from a seed: track, detectors, stock, trains and freight.

Rule: the same seed and the same parameters give the same texts, on any machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from bridge.core.plan import Railway, Standing, Working
from bridge.core.plant import Plant
from bridge.folder import Broker
from bridge.folder.as_texts import as_texts
from bridge.virtual.growing.booking import MINUTE_S, Diagram, Wanted
from bridge.virtual.growing.detecting import LAYOUTS, detected
from bridge.virtual.growing.freight import Freight
from bridge.virtual.growing.growth import AWKWARD, Growth
from bridge.virtual.growing.line import grown_line
from bridge.virtual.growing.stocking import GAP_MM, Stocking

BROKER = Broker("127.0.0.1")
TURNS_S = 5 * MINUTE_S  # between two workings of an engine, beside what it has at any call
CALL_MIN = 2.5  # real minutes that a goods train has at a call, and
JOB_MIN = 1.2  # for each wagon it lifts or sets out there, as far as that is known when it is booked


@dataclass(frozen=True, slots=True)
class Grown:
    """A folder as texts by file name; how its detectors are placed, and what is awkward about it (names of `AWKWARD`)."""

    texts: dict[str, str]
    layout: str
    awkward: tuple[str, ...]


def grow(seed: int, growth: Growth | None = None) -> Grown:
    """The railway of a seed."""
    return _Grower(Random(f"grown railway {seed}"), growth or Growth(), seed).grown()


@dataclass(frozen=True, slots=True)
class _Train:
    """A train made up on the road where it begins, its rake engine end first, and the stations that it is to go along."""

    kind: str
    engine: str
    rake: list[str]
    road: str
    way: list[str]


class _Grower:
    """Grows one railway."""

    def __init__(self, chance: Random, growth: Growth, seed: int) -> None:
        self._chance, self._growth, self._seed = chance, growth, seed
        names = sorted(AWKWARD)
        awkward = chance.sample(names, chance.randint(1, 3)) if chance.random() < growth.awkward_share else []
        self._awkward = frozenset(awkward)
        self._line = grown_line(chance, growth, self._awkward)
        self._stocking = Stocking(self._line, growth, chance)
        self._diagram = Diagram(self._line)
        self._numbers = {"g": 0, "p": 0}
        self._begin_s = chance.choice((8, 13, 18, 19)) * 60 * MINUTE_S

    def grown(self) -> Grown:
        """Track first, then stock, then trains, then freight."""
        layout = self._growth.layout or self._chance.choice(sorted(LAYOUTS))
        boards, detectors = detected(self._line, LAYOUTS[layout], self._chance)
        for station in self._line.stations:
            self._stocking.fill(station)
        for stations in self._districts():
            self._trains(stations)
        workings = self._diagram.finished()
        freight = Freight(self._line, self._diagram, self._stocking, self._growth, self._awkward, self._chance)
        for working in workings.values():
            if working.kind == "goods":
                freight.book(working)
        line = self._line
        id_ = f"{line.main[0]}-{self._seed % 100000}"
        name = f"{line.stations[line.main[0]].name} and {line.stations[line.main[-1]].name}"
        parts = (line.stations, line.roads, line.throats, line.sections, boards, detectors)
        plant = Plant(id_, name, line.scale, line.clock, *parts)
        moves = freight.finished(workings)
        railway = Railway(plant, self._stocking.stock, tuple(self._standing()), workings, moves)
        heading = f"{name}: an invented railway, grown from a seed."
        broker = BROKER if any(board.link == "mqtt" for board in boards.values()) else None
        return Grown(as_texts(railway, heading, broker), layout, tuple(sorted(self._awkward)))

    def _standing(self) -> list[Standing]:
        stacks = self._stocking.stacks
        return [Standing(v, road, n) for road, stack in stacks.items() for n, v in enumerate(stack, 1)]

    def _districts(self) -> list[tuple[str, ...]]:
        main, size = self._line.main, self._growth.district or len(self._line.main)
        cut = [main[n : n + size] for n in range(0, len(main), size)]
        found = [stations for stations in cut if len(stations) > 1]
        if self._line.branch:
            found.append(self._line.branch)
        return found

    # -- trains ------------------------------------------------------------------------------------------------------

    def _trains(self, stations: Sequence[str]) -> None:
        """Goods trains and passenger trains of a district: some start at one end, some at the other."""
        is_branch = stations == self._line.branch
        way = list(stations) if self._chance.random() < 0.6 and not is_branch else list(stations[::-1])
        stood = [self._stood("goods", way)]
        for _ in range(self._chance.randint(*self._growth.passengers) if not is_branch else self._chance.randint(0, 1)):
            stood.append(self._stood("passenger", way[::-1] if self._chance.random() < 0.7 else way))
        trains = [train for train in stood if train is not None]
        number = 0
        while number < len(trains):
            earliest_s = self._begin_s + number * self._chance.randint(3, 20) * MINUTE_S
            if self._booked(trains[number], earliest_s):
                number += 1
            else:  # the last that stands in its way gives way, it itself where none does
                self._withdrawn(trains.pop())

    def _withdrawn(self, train: _Train) -> None:
        """A train for which there is no way is taken off the railway."""
        self._diagram.gone(train.engine)
        del self._stocking.stacks[train.road]
        for vehicle in (train.engine, *train.rake):
            del self._stocking.stock[vehicle]

    def _stood(self, kind: str, way: list[str]) -> _Train | None:
        """A train made up on a free road at its first station; None where none is free."""
        leaves = self._line.end_towards(way[0], way[1])
        roads = [road for road in self._line.through(way[0]) if leaves in road.open and not self._diagram.is_taken(road.id)]
        if not roads:
            return None
        road = roads[-1] if kind == "goods" else roads[0]
        engine = self._stocking.vehicle("engine")
        most_mm = min(max(r.length_mm for r in self._line.through(s)) for s in way)
        most_mm = min(most_mm, road.length_mm) - 3 * GAP_MM - self._stocking.length_mm([engine])
        rake = self._rake(kind, most_mm)
        train = [*rake[::-1], engine]  # its engine at the down end
        self._stocking.stacks[road.id] = train if leaves == "down" else train[::-1]
        self._diagram.stands(engine, road.id)
        return _Train(kind, engine, rake, road.id, way)

    def _rake(self, kind: str, most_mm: float) -> list[str]:
        """What stands behind the engine, as far as there is room; a goods train has a brake van at its end, or none."""
        chance, make = self._chance, self._stocking.vehicle
        if kind == "passenger":
            wanted = ["coach"] * chance.randint(1, 3)
        else:
            wanted = ["wagon"] * chance.randint(*self._growth.rake) + ["brake"] * (chance.random() < 0.8)
        rake: list[str] = []
        for one in wanted:
            if self._stocking.length_mm(rake) + 120 + 130 * (one == "coach") < most_mm:
                rake.append(make(one))
        return rake

    def _booked(self, train: _Train, earliest_s: float) -> bool:
        """Out, and perhaps back: in one working, or in another with the same engine; whether it goes at all."""
        back = self._chance.choice(("none", "same", "other")) if not self._growth.district else "same"
        there_and_back = replace(train, way=[*train.way, *train.way[-2::-1]])
        if back == "same" and self._book(there_and_back, earliest_s):
            return True
        out = self._book(train, earliest_s)
        if out is None or back == "none":
            return out is not None
        last = out.calls[-1]
        home_s = (last.arrive_s or 0.0) + self._dwell_s(train.kind) + TURNS_S
        stays = [vehicle for vehicle in train.rake if self._stocking.stock[vehicle].kind != "wagon"]
        rake = stays[::-1] if train.kind == "passenger" else stays
        self._book(replace(train, rake=rake, road=last.road, way=train.way[::-1]), home_s)
        return True

    def _book(self, train: _Train, earliest_s: float) -> Working | None:
        letter = train.kind[0]
        name = f"{letter}{self._numbers[letter] + 1}"
        dwells_s = [self._dwell_s(train.kind) for _ in train.way]
        length_mm = self._stocking.length_mm([train.engine, *train.rake]) + GAP_MM
        ends = (train.road, length_mm, earliest_s, train.rake)
        working = self._diagram.book(Wanted(name, train.kind, train.engine, train.way, dwells_s, *ends))
        if working is not None:
            self._numbers[letter] += 1
        return working

    def _dwell_s(self, kind: str) -> float:
        if kind == "passenger":
            return self._chance.randint(1, 3) * MINUTE_S
        low, high = self._growth.lifts
        minutes = (CALL_MIN + JOB_MIN * self._chance.randint(low, high + 2)) * self._line.clock
        return round(minutes) * MINUTE_S
