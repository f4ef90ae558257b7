"""The track of a grown railway: stations in a line, perhaps with a branch, and what joins them.

Rule: every station has a road on which trains run through it (at the end of the line perhaps only in and out); lengths fit
the scale, and all of it is drawn from `chance` alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil
from random import Random

from bridge.core.plant import Road, RoadKind, Section, Station, Throat
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.names import SIDINGS, station_names
from bridge.virtual.motion import scale_speed_mm_s

BOTH = ("up", "down")
OTHER = {"up": "down", "down": "up"}
MODELLED = 76.2  # lengths below are those of a layout of this scale
GOODS_KM_H = 40.0
PASSENGER_KM_H = 60.0
STARTS_MIN = 0.4  # real minutes that a run takes beside running: points set, starting, stopping


@dataclass(frozen=True)
class Line:
    """The track. `main` are the stations from the up end on; `branch` those of a branch, its junction first."""

    scale: float
    clock: float
    stations: dict[str, Station]
    roads: dict[str, Road]
    throats: dict[str, Throat]
    sections: dict[str, Section]
    main: tuple[str, ...]
    branch: tuple[str, ...]

    def between(self, one: str, other: str) -> Section:
        """The section by which a train runs from one station to its neighbour."""
        for section in self.sections.values():
            ends = (section.from_throat.partition(".")[0], section.to_throat.partition(".")[0])
            for way, pair in (("down", ends), ("up", ends[::-1])):
                if pair == (one, other) and way in section.directions:
                    return section
        raise LookupError(f"no section leads from {one} to {other}")

    def end_towards(self, station: str, other: str) -> str:
        """The end of a station at which the way to its neighbour leaves."""
        section = self.between(station, other)
        throats = section.throats
        return next(t.partition(".")[2] for t in throats if t.partition(".")[0] == station)

    def through(self, station: str) -> list[Road]:
        """The roads for trains."""
        roads = (self.roads[road] for road in self.stations[station].roads)
        return [road for road in roads if road.kind in (RoadKind.RUNNING, RoadKind.LOOP)]

    def sidings(self, station: str) -> list[Road]:
        """The dead ends in which wagons stand."""
        return [road for r in self.stations[station].roads if (road := self.roads[r]).kind is RoadKind.SIDING]


def grown_line(chance: Random, growth: Growth, awkward: frozenset[str]) -> Line:
    """A line drawn by chance."""
    return _Layer(chance, growth, awkward).line()


class _Layer:
    """Lays track."""

    def __init__(self, chance: Random, growth: Growth, awkward: frozenset[str]) -> None:
        self._chance, self._growth, self._awkward = chance, growth, awkward
        self._scale = chance.choice((43.5, 76.2, 76.2, 87.0, 87.0, 160.0))
        self._clock = float(chance.choice((3, 4, 5, 6)))
        self._roads: dict[str, Road] = {}
        self._throats: dict[str, Throat] = {}
        self._stations: dict[str, Station] = {}
        self._sections: dict[str, Section] = {}

    def line(self) -> Line:
        """All of it."""
        chance, count = self._chance, self._chance.randint(*self._growth.stations)
        branched = count >= 3 and chance.random() < self._growth.branch_share
        beyond = chance.randint(1, 2) if branched else 0
        named = station_names(count + beyond, chance)
        main, branch = [id_ for id_, _ in named[:count]], [id_ for id_, _ in named[count:]]
        at = chance.randrange(1, count - 1) if branched else 0
        joined = [*self._along(main), *(self._branching(main[at], branch) if branched else ())]
        leaving = {end for pair in joined for end in pair}
        for id_, name in named:
            self._station(id_, name, {end for end in BOTH if f"{id_}.{end}" in leaving}, is_junction=id_ == main[at])
        for start, end in joined:
            self._join(start, end)
        self._limit_reach(main[at] if branched else "")
        ways = (tuple(main), (main[at], *branch) if branched else ())
        return Line(self._scale, self._clock, self._stations, self._roads, self._throats, self._sections, *ways)

    def _along(self, main: list[str]) -> Iterator[tuple[str, str]]:
        for one, other in pairwise(main):
            yield f"{one}.down", f"{other}.up"

    def _branching(self, junction: str, branch: list[str]) -> Iterator[tuple[str, str]]:
        """A branch leaves either end of its junction, and comes to either end of its own station."""
        end = self._chance.choice(BOTH)
        for one, other in pairwise([junction, *branch]):
            to = self._chance.choice(BOTH)
            yield f"{one}.{end}", f"{other}.{to}"
            end = OTHER[to]

    def _mm(self, low: float, high: float) -> float:
        return float(round(self._chance.uniform(low, high) * MODELLED / self._scale, -1))

    def _station(self, id_: str, name: str, line_ends: set[str], is_junction: bool) -> None:
        chance, no_loop = self._chance, "no-loop" in self._awkward
        is_end = len(line_ends) == 1
        bay = is_end and no_loop and chance.random() < 0.5
        open_ = tuple(end for end in BOTH if end in line_ends) if bay else BOTH
        self._road(id_, "platform", RoadKind.RUNNING, self._mm(1100, 1700), open_)
        loops = 0 if bay or (no_loop and chance.random() < 0.6) else chance.choice(self._growth.loops)
        if not no_loop and (is_end or is_junction):
            loops = max(loops, 1)
        if self._growth.district:
            loops = 2
        for loop in ("loop", "relief")[:loops]:
            self._road(id_, loop, RoadKind.LOOP, self._mm(1100, 1600), BOTH)
        names = iter(chance.sample(SIDINGS, 8))
        for end in BOTH:
            for _ in range(0 if bay and end not in line_ends else chance.randint(*self._growth.sidings)):
                self._road(id_, next(names), RoadKind.SIDING, self._siding_mm(), (end,))
        for end in BOTH:
            self._throat(id_, end, has_line=end in line_ends)
        roads = tuple(road for road in self._roads if road.partition(".")[0] == id_)
        self._stations[id_] = Station(id_, name, roads)

    def _siding_mm(self) -> float:
        if not self._growth.district:
            return self._mm(*self._growth.siding_mm)
        wagons = ceil(self._growth.wagons[1] / (2 * max(1, self._growth.sidings[0]))) + 3
        return self._mm(wagons * 100, wagons * 110)

    def _road(self, station: str, name: str, kind: RoadKind, length_mm: float, open_: tuple[str, ...]) -> None:
        full = f"{station}.{name}"
        self._roads[full] = Road(full, station, name, kind, length_mm, open_)

    def _throat(self, station: str, end: str, has_line: bool) -> None:
        chance, full = self._chance, f"{station}.{end}"
        length_mm = None if chance.random() < 0.5 else self._mm(280, 900)
        if not has_line and length_mm is not None:
            length_mm = self._mm(180, 420) if "short-neck" in self._awkward else self._mm(550, 1000)
        headshunt = None
        if chance.random() < self._growth.headshunt_share:
            headshunt = f"{station}.neck-{end}"
            self._road(station, f"neck-{end}", RoadKind.HEADSHUNT, self._mm(350, 700), (end,))
        self._throats[full] = Throat(full, station, end, length_mm, headshunt)

    def _join(self, start: str, end: str) -> None:
        id_ = f"{start.partition('.')[0]}-{end.partition('.')[0]}"
        length_mm = self._mm(2400, 6500)
        if self._chance.random() < self._growth.double_share:
            for way in BOTH:
                self._section(f"{id_}-{way}", start, end, length_mm, (way,))
        else:
            self._section(id_, start, end, length_mm, BOTH)

    def _section(self, id_: str, start: str, end: str, length_mm: float, directions: tuple[str, ...]) -> None:
        rule = self._chance.choice(self._growth.rules)
        tags = (f"0F{self._chance.getrandbits(32):08X}",) if rule in ("token", "staff-and-ticket") else ()
        minutes = {
            kind: self._minutes(length_mm, km_h) for kind, km_h in (("goods", GOODS_KM_H), ("passenger", PASSENGER_KM_H))
        }
        self._sections[id_] = Section(id_, start, end, length_mm, rule, directions, minutes, tags)

    def _minutes(self, length_mm: float, km_h: float) -> float:
        """Whole session minutes for a run through a section and into the next road."""
        beside_mm = 2000.0 * MODELLED / self._scale
        running_min = (length_mm + beside_mm) / scale_speed_mm_s(km_h, self._scale) / 60.0
        return float(ceil((running_min + STARTS_MIN) * self._clock))

    def _limit_reach(self, junction: str) -> None:
        """At a junction a siding may lie so that not every line is reached from it."""
        if not junction or self._chance.random() < 0.5:
            return
        for road in [road for road in self._roads.values() if road.station == junction and road.kind is RoadKind.SIDING]:
            throat = f"{junction}.{road.open[0]}"
            here = [s.id for s in self._sections.values() if throat in s.throats]
            if len(here) > 1:
                self._roads[road.id] = replace(road, reaches=(self._chance.choice(here),))
