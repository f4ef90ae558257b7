"""Railways for the benchmark: what is laid, who runs on it, and which readers, contacts and track detectors there are.

Rule: track, stock and plan depend on the seed alone, so one railway is measured under every wiring. Five stations in a line,
each a through road, a loop and a dead-end siding at either end; 40 wagons, and a goods that sets out and lifts at its calls
and runs round where it has to, a passenger train, and an engine for each.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from random import Random
from typing import Any

from bridge.core.plan import Railway, Vehicle
from bridge.core.plant import Board, Detector, DetectorKind, RoadKind, SectionRule
from bridge.folder import read
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.line import BOTH
from bridge.virtual.growing.railway import grow

YARD = Growth(
    stations=(5, 5),
    branch_share=0.0,
    double_share=0.0,
    loops=(1,),
    headshunt_share=0.0,
    sidings=(1, 1),
    siding_mm=(700.0, 900.0),
    rules=(SectionRule.ONE_TRAIN,),
    wagons=(7, 7),
    rake=(5, 5),
    lifts=(1, 3),
    passengers=(1, 1),
    tagged_share=1.0,
    detected_share=1.0,
    layout="whole",
    awkward_share=0.0,
)
"""Seven wagons in the sidings of each station and five in the goods train: forty."""

WORN = "worn"
LAYOUTS = {
    "mouths": "a reader at every mouth of a road and at every station limit",
    "sidings": "readers at the mouths of sidings and at station limits",
    "points": "as sidings, and contacts that tell which road of a throat is set",
    WORN: "as sidings, and a fifth of the readers are dead, which nobody tells the engine",
    "limits": "readers at station limits only",
}
TRACKS = {
    "all": "every road, throat and section has a track detector, and it feels every vehicle",
    "engines": "the same, but it feels engines alone",
    "none": "there are no track detectors",
}
UNTAGGED_SHARE = 0.1
DEAD_SHARE = 0.2


@lru_cache(maxsize=4)
def grown(seed: int) -> Railway:
    """The track, the stock and the plan of a seed; its own detectors are to be replaced by `wired`."""
    railway = read({file: text.encode() for file, text in grow(seed, YARD).texts.items()}).railway
    assert railway is not None, f"seed {seed} grows no railway"
    return railway


def wired(railway: Railway, layout: str, tracks: str, *, untagged: bool, seed: int) -> Railway:
    """The railway with the detectors of one owner (names of `LAYOUTS` and `TRACKS`); each vehicle has one tag, or, where
    `untagged`, a tenth of the wagons has none."""
    wiring = _Wiring(railway, layout)
    wiring.readers()
    if layout == "points":
        wiring.points()
    if tracks != "none":
        wiring.tracks()
    boards = {station: Board(station, "serial") for station in railway.plant.stations}
    plant = replace(railway.plant, boards=boards, detectors=wiring.detectors)
    felt = {v.id for v in railway.stock.values() if tracks == "all" or v.kind == "engine"}
    stock = {v.id: replace(v, tags=v.tags[:1], detected=v.id in felt) for v in railway.stock.values()}
    if untagged:
        stock |= {vehicle.id: replace(vehicle, tags=()) for vehicle in _tenth(stock, seed)}
    return replace(railway, plant=plant, stock=stock)


def dead_readers(railway: Railway, seed: int) -> list[str]:
    """The fifth of its readers that are dead on a worn layout."""
    readers = [d.id for d in railway.plant.detectors.values() if d.kind is DetectorKind.READER]
    return sorted(Random(f"dead readers {seed}").sample(readers, round(DEAD_SHARE * len(readers))))


def _tenth(stock: dict[str, Vehicle], seed: int) -> list[Vehicle]:
    wagons = [vehicle for vehicle in stock.values() if vehicle.kind == "wagon"]
    return Random(f"untagged {seed}").sample(wagons, round(UNTAGGED_SHARE * len(wagons)))


@dataclass
class _Wiring:
    """Puts detectors; all of a station are on one board, however many inputs that takes."""

    railway: Railway
    layout: str
    detectors: dict[str, Detector] = field(default_factory=dict)
    _used: dict[str, int] = field(default_factory=dict)

    def readers(self) -> None:
        """One at each station limit, and those at the mouths of roads."""
        plant = self.railway.plant
        for section in plant.sections.values():
            for throat in (section.from_throat, section.to_throat):
                station = throat.partition(".")[0]
                self._add(station, f"{section.id}-limit", DetectorKind.READER, at=f"{section.id}@{station}")
        for road in plant.roads.values():
            if self.layout == "mouths" or (self.layout != "limits" and road.kind is RoadKind.SIDING):
                for end in road.open:
                    self._add(road.station, f"{road.name}-{end}-reader", DetectorKind.READER, at=f"{road.id}@{end}")

    def points(self) -> None:
        """Of each road of a throat but the first, whether it is the one that is set."""
        plant = self.railway.plant
        for throat in plant.throats.values():
            roads = [r for r in plant.stations[throat.station].roads if throat.end in plant.roads[r].open]
            for road in roads[1:]:
                off = tuple(other for other in roads if other != road)
                name = f"{plant.roads[road].name}-{throat.end}-points"
                self._add(throat.station, name, DetectorKind.POINTS, at=throat.id, on=(road,), off=off)

    def tracks(self) -> None:
        """One for each road, throat and section."""
        plant = self.railway.plant
        for road in plant.roads.values():
            self._add(road.station, road.name, DetectorKind.TRACK, covers=road.id, clear_after_ms=1000.0)
        for station in plant.stations:
            for end in BOTH:
                self._add(station, f"{end}-throat", DetectorKind.TRACK, covers=f"{station}.{end}", clear_after_ms=1000.0)
        for section in plant.sections.values():
            station = section.from_throat.partition(".")[0]
            self._add(station, section.id, DetectorKind.TRACK, covers=section.id, clear_after_ms=1000.0)

    def _add(self, board: str, name: str, kind: DetectorKind, **keys: Any) -> None:
        self._used[board] = self._used.get(board, 0) + 1
        full = f"{board}-{name}"
        self.detectors[full] = Detector(full, kind, board, self._used[board], **keys)
