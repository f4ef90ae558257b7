"""Vehicles of a grown railway, and which of them stand in its sidings at the beginning.

Rule: lengths fit the scale, what stands in a siding fits into it with room between the blocks, and a tag is on one vehicle
only.
"""

from __future__ import annotations

from random import Random

from bridge.core.plan import Vehicle
from bridge.core.plant import Road
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.line import MODELLED, Line

LENGTHS_MM = {"engine": (130, 230), "wagon": (72, 108), "brake": (90, 110), "coach": (200, 250)}
CLASSES = {
    "engine": ("tank", "saddle tank", "tender engine"),
    "wagon": ("van", "open", "bolster", "hopper", "cattle"),
    "brake": ("goods brake",),
    "coach": ("third", "composite", "brake third"),
}
GAP_MM = 20.0  # between what stands in a siding and its ends, and between blocks
LETTER = {"engine": "e", "wagon": "w", "brake": "b", "coach": "c"}


class Stocking:
    """Makes vehicles and stands them somewhere. `stacks`: road to its vehicles, up end first."""

    def __init__(self, line: Line, growth: Growth, chance: Random) -> None:
        self._line, self._growth, self._chance = line, growth, chance
        self.stock: dict[str, Vehicle] = {}
        self.stacks: dict[str, list[str]] = {}
        self._tags: set[str] = set()
        self._counts = dict.fromkeys(LETTER, 0)
        self._tagged = {"engine": 0.9, "coach": 0.8, "wagon": chance.choice((1.0, 0.9, 0.6)), "brake": 0.95}
        self._detected = {"engine": 1.0, "coach": 1.0, "wagon": chance.choice((1.0, 1.0, 0.5)), "brake": 1.0}
        if growth.tagged_share is not None:
            self._tagged = dict.fromkeys(LETTER, growth.tagged_share)
        if growth.detected_share is not None:
            self._detected = dict.fromkeys(LETTER, growth.detected_share)

    def vehicle(self, kind: str, home: str | None = None) -> str:
        """A vehicle more; it stands nowhere yet."""
        chance = self._chance
        self._counts[kind] += 1
        number = self._counts[kind]
        id_ = f"{LETTER[kind]}{number}"
        length_mm = float(round(chance.uniform(*LENGTHS_MM[kind]) * MODELLED / self._line.scale))
        tags = [self._tag()] if chance.random() < self._tagged[kind] else []
        if tags and kind != "engine" and chance.random() < 0.1:
            tags.append(self._tag())
        self.stock[id_] = Vehicle(
            id_,
            kind,
            length_mm,
            tuple(tags),
            detected=chance.random() < self._detected[kind],
            tail=kind == "brake" or (kind == "coach" and chance.random() < 0.3),
            klass=chance.choice(CLASSES[kind]),
            painted=str(100 + 3 * number) if kind != "engine" else str(number),
            home=home,
        )
        return id_

    def _tag(self) -> str:
        while (tag := f"04{self._chance.getrandbits(32):08X}") in self._tags:
            continue
        self._tags.add(tag)
        return tag

    def length_mm(self, vehicles: list[str] | tuple[str, ...]) -> float:
        """Over buffers."""
        return sum(self.stock[vehicle].length_mm for vehicle in vehicles)

    def room_mm(self, road: Road, more: int = 0) -> float:
        """What still fits on a road beside what stands there now, with room between blocks, `more` blocks reckoned in."""
        return road.length_mm - self.length_mm(self.stacks.get(road.id, [])) - GAP_MM * (2 + more)

    def fill(self, station: str) -> None:
        """Stand wagons in the sidings of a station."""
        sidings = self._line.sidings(station)
        for _ in range(self._chance.randint(*self._growth.wagons)):
            least_mm = LENGTHS_MM["wagon"][1] * MODELLED / self._line.scale
            keeps_free_mm = least_mm * (0 if self._growth.district else self._chance.choice((0, 1, 2)))
            free = [road for road in sidings if self.room_mm(road) - keeps_free_mm >= least_mm]
            if free:
                road = self._chance.choice(free)
                self.stacks.setdefault(road.id, []).append(self.vehicle("wagon", road.id))
