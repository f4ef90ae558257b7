"""What a crew sees when it looks about: what stands on each road, which roads are open where, and where it can draw out.

Rule: it is looked at anew each time, and only looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from bridge.core.plant import RoadKind, Section
from bridge.virtual.ways import CLEAR_MM
from bridge.virtual.world import GAP_MM, World

OTHER = {"up": "down", "down": "up"}
SPARE_MM = 5.0  # a neck is not used to the last millimetre
IN_SECTION_MM = 100.0  # nor is a section used to its far end


@dataclass(frozen=True, slots=True)
class Spot:
    """What a vehicle takes up of a road: from and to in millimetres from its end 0, and the rake it is in."""

    low_mm: float
    high_mm: float
    vehicle: str
    rake: int


@dataclass(frozen=True, slots=True)
class Neck:
    """A place into which a train can be drawn clear of the roads at one end. `room_mm` is for all that is drawn out."""

    place: str
    room_mm: float
    section: str | None = None
    throat: str = ""


class Ground:
    """The railway as it stands."""

    def __init__(self, world: World, now_s: Callable[[], float]) -> None:
        self.world, self.plant, self._now_s = world, world.railway.plant, now_s

    def line(self, road: str) -> list[Spot]:
        """What stands on a road, in order from its end 0; also what only hangs into it."""
        found = []
        for key in self.world.keys_near([road]):
            rake = self.world.rakes[key]
            if any(leg.stretch == road for leg in rake.legs):
                run = self.world.runs.get(key)
                gone_mm = 0.0 if run is None else run.profile.covered_mm(self._now_s() - run.start_s)
                for vehicle, low_mm, high_mm in rake.spans:
                    pieces = (piece for piece in rake.swept(low_mm + gone_mm, high_mm + gone_mm) if piece[0] == road)
                    found += [Spot(low, high, vehicle.id, key) for _, low, high in pieces]
        return sorted(found, key=lambda spot: (spot.low_mm, spot.high_mm))

    def stack(self, road: str, end: str) -> list[str]:
        """The vehicles on a road, nearest to one of its ends first."""
        line = [spot.vehicle for spot in self.line(road)]
        return line if end == "up" else line[::-1]

    def depth_mm(self, road: str, end: str, spot: Spot) -> tuple[float, float]:
        """How far in a vehicle stands from one end of a road: its near and its far side."""
        if end == "up":
            return spot.low_mm, spot.high_mm
        length_mm = self.world.track.length_mm(road)
        return length_mm - spot.high_mm, length_mm - spot.low_mm

    def road_of(self, vehicle: str) -> str | None:
        """The road that a vehicle is on, with its greater part where it is on several."""
        return next((place for place in self.world.places_of(vehicle) if place in self.plant.roads), None)

    def standing_at(self, station: str) -> dict[str, str]:
        """Every vehicle that stands on a road of a station, with the road."""
        found: dict[str, str] = {}
        for road in self.plant.stations[station].roads:
            for spot in self.line(road):
                found.setdefault(spot.vehicle, road)
        return found

    def engine_on(self, road: str, besides: str) -> bool:
        """Whether another engine stands on a road, or a train with one."""
        stock = self.world.railway.stock
        return any(
            vehicle.kind == "engine" and vehicle.id != besides and besides not in self.world.rakes[spot.rake].ids
            for spot in self.line(road)
            for vehicle in (stock[v] for v in self.world.rakes[spot.rake].ids)
        )

    def roads_at(self, station: str, end: str) -> list[str]:
        """The roads of a station open at one end; the neck of a throat is none of them."""
        necks = {throat.headshunt for throat in self.plant.throats.values()}
        roads = (self.plant.roads[road] for road in self.plant.stations[station].roads)
        return [road.id for road in roads if end in road.open and road.id not in necks]

    def through_roads(self, station: str) -> list[str]:
        """The roads open at both ends, loops and sidings before those for running."""
        both = [road for road in self.roads_at(station, "up") if "down" in self.plant.roads[road].open]
        return sorted(both, key=lambda road: self.plant.roads[road].kind is RoadKind.RUNNING)

    def end_of_engine(self, engine: str, road: str) -> str | None:
        """The end of its train at which an engine is, told as the end of the road; None where it is alone or amid it."""
        rake = self.world.rake_of(engine)
        leg = next((leg for leg in rake.legs if leg.stretch == road), None)
        if len(rake.ids) == 1 or leg is None or engine not in (rake.ids[0], rake.ids[-1]):
            return None
        return "down" if (rake.ids[-1] == engine) == leg.ahead else "up"

    def coupled(self, engine: str) -> tuple[str, ...]:
        """The vehicles coupled to an engine, nearest first."""
        ids = self.world.rake_of(engine).ids
        return tuple(v for v in (ids if ids[0] == engine else ids[::-1]) if v != engine)

    def may_enter(self, section: Section, throat: str) -> bool:
        """Whether a section is open in the direction that leads away from a throat."""
        return ("down" if section.from_throat == throat else "up") in section.directions

    def necks(self, throat: str, roads: Iterable[str]) -> Iterator[Neck]:
        """Where trains can be drawn out of these roads at a throat: the throat itself, its headshunt, its sections."""
        plant, track = self.plant, self.world.track
        own_mm = track.length_mm(throat) - CLEAR_MM - SPARE_MM
        yield Neck(throat, own_mm, throat=throat)
        headshunt = plant.throats[throat].headshunt
        if headshunt is not None:
            free_mm = track.length_mm(headshunt) - sum(spot.high_mm - spot.low_mm + GAP_MM for spot in self.line(headshunt))
            yield Neck(headshunt, own_mm + free_mm - GAP_MM, throat=throat)
        for section in self._sections_at(throat):
            reached = all(track.reaches(road, section.id) for road in roads)
            if reached and self.may_enter(section, throat):
                yield Neck(section.id, own_mm + section.length_mm - IN_SECTION_MM, section.id, throat)

    def _sections_at(self, throat: str) -> list[Section]:
        sections = self.plant.sections.values()
        found = [s for s in sections if (s.from_throat == throat) != (s.to_throat == throat)]
        return sorted(found, key=lambda section: bool(section.rule in ("token", "staff-and-ticket")))
