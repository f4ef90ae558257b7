"""A run that leaves a station for another, and what it is certain to be called: departed, entered, cleared, arrived.

Rule: these are told of where the vehicles are. A run that only draws out into a section to shunt is no trip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.core.plan import Vehicle
from bridge.core.plant import Plant
from bridge.virtual.orders import RunsTo
from bridge.virtual.truth import Truth
from bridge.virtual.ways import Planned, RunOrder
from bridge.virtual.world import Crossing


@dataclass
class Trip:
    """One train under way. `road` is the last road it was on."""

    engine: str
    train: str
    ids: tuple[str, ...]
    road: str
    roads: frozenset[str]
    sections: frozenset[str]
    told: set[str] = field(default_factory=set)

    def crossed(self, truth: Truth, t_s: float, crossing: Crossing, on: Mapping[str, Vehicle]) -> None:
        """One of its vehicles came onto a stretch or off it; `on` is what is on that stretch now."""
        stretch = crossing.stretch
        if crossing.what == "in" and stretch not in self.told:
            if stretch in self.sections:
                truth.leaves_off(t_s, self.engine, self.train, self.ids)
                station = self.road.partition(".")[0]
                truth.event(t_s, "departed", train=self.train, station=station, road=self.road)
                truth.event(t_s, "entered", train=self.train, section=stretch)
            elif stretch in self.roads:
                self.road = stretch
                truth.event(t_s, "arrived", train=self.train, station=stretch.partition(".")[0], road=stretch)
            self.told.add(stretch)
        elif crossing.what == "out" and stretch in self.sections and not set(self.ids) & set(on):
            truth.event(t_s, "cleared", train=self.train, section=stretch)


def trip_of(plant: Plant, planned: Planned, order: RunOrder, engine: str, train: str) -> Trip | None:
    """The trip that a run is; None where it leaves no station for another."""
    sections = [stretch for stretch in planned.way if stretch in plant.sections]
    if not isinstance(order, RunsTo) or not sections or order.place not in plant.roads:
        return None
    first = planned.way.index(sections[0])
    before = [stretch for stretch in planned.way[:first] if stretch in plant.roads]
    if first == 0 or not before:
        return None
    roads = frozenset(stretch for stretch in planned.way[first:] if stretch in plant.roads)
    return Trip(engine, train, planned.rake.ids, before[-1], roads, frozenset(sections))
