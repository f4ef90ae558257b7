"""What does not change while evidence comes in: the plant and stock as the weighing of hypotheses asks for them.

Rule: everything here is found once and looked up ever after; nothing costs more on a larger railway.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence

from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Plant, RoadKind
from bridge.core.whereabouts.weighing.hypotheses import Unread
from bridge.core.whereabouts.weighing.quality import Quality

FASTEST_MM_S = 33_333.0  # of the prototype, 120 km/h: faster than trains run on a single line (common practice, no source)
FURTHEST = 8  # a way over more boundaries than this is none: nothing gets so far without anything telling

Ends = tuple[str, int, str, int]
"""(whence, by which of its ends, where to, by which of its ends)."""

_Search = tuple[dict[str, tuple[Boundary, ...]], deque[str]]
"""The ways found so far from one stretch to others, and the stretches from which it goes on."""


class Yard:
    """Plant and stock, the ways between stretches, and how well readers read."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.plant, self.stock = plant, stock
        self.quality = Quality(plant)
        self._find()

    def __getstate__(self) -> tuple[Plant, Mapping[str, Vehicle], Quality]:
        """What is put away: all else follows from plant and stock, and would be most of it."""
        return self.plant, self.stock, self.quality

    def __setstate__(self, kept: tuple[Plant, Mapping[str, Vehicle], Quality]) -> None:
        self.plant, self.stock, self.quality = kept
        self._find()

    def _find(self) -> None:
        plant, stretches = self.plant, self.plant.at_stretch.items()
        self.engines = frozenset(vehicle.id for vehicle in self.stock.values() if vehicle.kind == "engine")
        self.outward: dict[str, Ends] = {b.id: (b.throat, b.throat_end, b.outer, b.end) for b in plant.boundaries.values()}
        self.inward: dict[str, Ends] = {b.id: (b.outer, b.end, b.throat, b.throat_end) for b in plant.boundaries.values()}
        self.sidings = frozenset(r.id for r in plant.roads.values() if r.kind in (RoadKind.SIDING, RoadKind.HEADSHUNT))
        read = {b.id for b in plant.boundaries.values() if self.quality.has_reader(b.id)}
        self.told_of = frozenset(
            stretch for stretch in (*self.sidings, *plant.sections) if any(b.id in read for b in plant.at_stretch[stretch])
        )
        self.unread_throats = frozenset(t for t in plant.throats if any(b.id not in read for b in plant.at_stretch[t]))
        self._station = {stretch: plant.station_of(stretch) for stretch in (*plant.roads, *plant.throats)}
        self._stretches = {station: plant.stretches_of(station) for station in plant.stations}
        self._mouths = {stretch: tuple(b for b in rows if b.outer == stretch) for stretch, rows in stretches}
        self._beyond = {
            (throat, end): tuple(b for b in rows if b.throat == throat and b.throat_end == end)
            for throat, rows in stretches
            for end in (0, 1)
        }
        self._next_but_one = {
            (b.id, outward): self._beyond_both(start, goal)
            for outward, ends in ((True, self.outward), (False, self.inward))
            for b in plant.boundaries.values()
            for start, _, goal, _ in (ends[b.id],)
        }
        self._ways: dict[tuple[str, str, str], tuple[Boundary, ...] | None] = {}
        self._searches: dict[tuple[str, str], _Search] = {}

    def ends(self, boundary: Boundary, outward: bool) -> Ends:
        """Whence and where to a crossing leads."""
        return self.outward[boundary.id] if outward else self.inward[boundary.id]

    def beyond(self, throat: str, end: int) -> tuple[Boundary, ...]:
        """The boundaries at one end of a throat."""
        return self._beyond[throat, end]

    def station_of(self, stretch: str) -> str | None:
        """The station of a road or throat, None for a section."""
        return self._station.get(stretch)

    def stretches_of(self, station: str | None) -> tuple[str, ...]:
        """The roads and throats of a station; none where it is none."""
        return self._stretches.get(station or "", ())

    def _beyond_both(self, start: str, goal: str) -> tuple[str, ...]:
        plant = self.plant
        sides = [(throat, other) for throat, other in ((goal, start), (start, goal)) if throat in plant.throats]
        return tuple([b.outer for throat, other in sides for b in plant.at_stretch[throat] if b.outer != other])

    def next_but_one(self, boundary: Boundary, outward: bool) -> tuple[str, ...]:
        """The roads and sections at the throats to both sides of a boundary, but those at the boundary itself."""
        return self._next_but_one[boundary.id, outward]

    def mouths(self, stretch: str) -> tuple[Boundary, ...]:
        """The boundaries of a road or section."""
        return self._mouths[stretch]

    def soonest_s(self, section: str) -> float:
        """How many seconds the fastest train takes through a section; 0.0 where its length is not known."""
        length_mm = self.plant.length_mm(section) if section in self.plant.sections else None
        return 0.0 if length_mm is None else length_mm * self.plant.scale / FASTEST_MM_S

    def works_detectors(self, vehicle: str) -> bool:
        """True for a vehicle that track detectors see."""
        return self.stock[vehicle].detected

    def unread(self, vehicle: str, boundary: str) -> float:
        """The logarithm of the chance that a vehicle passes a boundary and is not read; 0 where no reader could."""
        return self.quality.unread(self.stock[vehicle], boundary)

    def all_unread(self, group: Sequence[str], boundary: str) -> float:
        """The same of all of a group: one reader that has died misses them all."""
        if not group:
            return 0.0
        if len(group) == 1:
            return self.unread(group[0], boundary)
        return self.quality.all_unread([self.stock[vehicle] for vehicle in group], boundary)

    def passed_unread(self, group: Sequence[str], steps: Sequence[Boundary]) -> tuple[Unread, ...]:
        """A group that is taken to have passed some boundaries, and of which nothing was read where a reader stands."""
        return tuple(Unread(v, step.id) for v in group for step in steps if self.quality.has_reader(step.id))

    def way(self, start: str, goal: str, shut: str) -> tuple[Boundary, ...] | None:
        """The shortest way from one stretch to another that does not lead over the boundary `shut`; None where there is
        none."""
        key = (start, goal, shut)
        if key not in self._ways:
            way = self._found(start, goal, "")
            leads_over = way is not None and shut in [step.id for step in way]
            self._ways[key] = self._found(start, goal, shut) if leads_over else way
        return self._ways[key]

    def _found(self, start: str, goal: str, shut: str) -> tuple[Boundary, ...] | None:
        """The same, found by a search that goes on from where it was left the last time."""
        search = self._searches.get((start, shut))
        if search is None:
            search = self._searches[start, shut] = {start: ()}, deque([start])
        ways, queue = search
        while queue and goal not in ways:
            here = queue.popleft()
            way = ways[here]
            for boundary in self.plant.at_stretch.get(here, ()) if len(way) < FURTHEST else ():
                there = boundary.throat if here == boundary.outer else boundary.outer
                if boundary.id != shut and there not in ways:
                    ways[there] = (*way, boundary)
                    queue.append(there)
        return ways.get(goal)
