"""A train that leaves a station for another, and what is certain of it: departed, entered, cleared, arrived.

Rule: these are told of where the vehicles are. Drawing out into a section and back to the same station is no trip.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import takewhile

from bridge.core.plan import Vehicle
from bridge.virtual.orders import RunsTo
from bridge.virtual.passing import Crossing
from bridge.virtual.truth import Truth
from bridge.virtual.ways import Planned, RunOrder
from bridge.virtual.world import World


@dataclass
class Trip:
    """One train under way. `road` is the last road it was on; `sections` are those it is in and has not cleared."""

    engine: str
    train: str
    ids: tuple[str, ...]
    road: str
    sections: set[str] = field(default_factory=set)


class Trips:
    """The trips of an evening, by engine."""

    def __init__(self, world: World, truth: Truth) -> None:
        self._world, self._truth = world, truth
        self._road: dict[str, str] = {}  # engine -> the road it was last on
        self._under_way: dict[str, Trip] = {}

    def setting_off(self, t_s: float, engine: str, train: str, planned: Planned, order: RunOrder) -> Trip | None:
        """The trip that a run is, or goes on with; None where it leaves no station for another."""
        roads, sections = self._world.railway.plant.roads, self._world.railway.plant.sections
        last = self._leaving(planned) or self._road.get(engine) or self._road_of(engine) or ""
        going = self._under_way.get(engine)
        if going is not None and planned.way[0] in sections:
            return going
        if not isinstance(order, RunsTo) or not last or not any(stretch in sections for stretch in planned.way):
            return None
        leaves = order.place in roads and roads[order.place].station != roads[last].station
        if not leaves and not order.departs:
            return None
        trip = Trip(engine, train, planned.rake.ids, last)
        self._under_way[engine] = trip
        for section in (stretch for stretch in planned.way if stretch in sections and self._is_on(trip, stretch)):
            self._enter(t_s, trip, section)  # it had drawn out before
        return trip

    def crossed(self, t_s: float, trip: Trip, crossing: Crossing) -> None:
        """A vehicle of it has come onto a stretch or off it."""
        stretch, plant = crossing.stretch, self._world.railway.plant
        if crossing.what == "in" and stretch in plant.sections and stretch not in trip.sections:
            self._enter(t_s, trip, stretch)
        elif crossing.what == "in" and stretch in plant.roads and stretch != trip.road:
            trip.road = stretch
            self._truth.event(t_s, "arrived", train=trip.train, station=plant.roads[stretch].station, road=stretch)
        elif crossing.what == "out" and stretch in trip.sections and not self._is_on(trip, stretch):
            trip.sections.discard(stretch)
            self._truth.event(t_s, "cleared", train=trip.train, section=stretch)

    def stood(self, engine: str) -> None:
        """A run of this engine is over."""
        road = self._road_of(engine)
        if road is not None:
            self._road[engine] = road
        trip = self._under_way.get(engine)
        if trip is not None and not trip.sections:
            del self._under_way[engine]

    def _enter(self, t_s: float, trip: Trip, section: str) -> None:
        trip.sections.add(section)
        self._truth.leaves_off(t_s, trip.engine, trip.train, trip.ids)
        station = trip.road.partition(".")[0]
        self._truth.event(t_s, "departed", train=trip.train, station=station, road=trip.road)
        self._truth.event(t_s, "entered", train=trip.train, section=section)

    def _leaving(self, planned: Planned) -> str | None:
        """The road that a rake comes from, where its way begins on one."""
        plant = self._world.railway.plant
        here = takewhile(lambda stretch: stretch not in plant.sections, planned.way)
        return next((stretch for stretch in reversed(list(here)) if stretch in plant.roads), None)

    def _is_on(self, trip: Trip, stretch: str) -> bool:
        on: dict[str, Vehicle] = self._world.on[stretch]
        return any(vehicle in on for vehicle in trip.ids)

    def _road_of(self, engine: str) -> str | None:
        return next((p for p in self._world.places_of(engine) if p in self._world.railway.plant.roads), None)
