"""What is screwed down: stations, roads, throats, sections, boards and detectors, joined to a graph of stretches.

Rule: a plant never changes once made. A *stretch* is a road, a throat or a section; every one has an end 0 (the up end;
of a section its `from` end) and an end 1 (the down end; its `to` end), and vehicles stand on it in order from end 0. A
*boundary* joins one end of a road or section to one end of a throat: nothing passes from stretch to stretch but there.
Lengths are millimetres on the layout.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property


class RoadKind(StrEnum):
    """What a road is for."""

    RUNNING = "running"
    LOOP = "loop"
    SIDING = "siding"
    HEADSHUNT = "headshunt"


class SectionRule(StrEnum):
    """By which rule a section is worked."""

    ONE_TRAIN = "one-train"
    TOKEN = "token"
    STAFF_AND_TICKET = "staff-and-ticket"
    TRACK_CIRCUIT = "track-circuit"


class DetectorKind(StrEnum):
    """What a detector is."""

    TRACK = "track"
    TREADLE = "treadle"
    READER = "reader"
    POINTS = "points"
    PROOF = "proof"
    TOKEN_REST = "token-rest"
    POWER = "power"


@dataclass(frozen=True, slots=True)
class Road:
    """One track at a station. `id` is "station.road"; `fouls` are road ids; `reaches` are section ids, empty for all."""

    id: str
    station: str
    name: str
    kind: RoadKind
    length_mm: float
    open: tuple[str, ...]
    fouls: tuple[str, ...] = ()
    reaches: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Throat:
    """The pointwork at one end of a station; `id` is "station.up" or "station.down"."""

    id: str
    station: str
    end: str
    length_mm: float | None = None
    headshunt: str | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """The line between two stations. `from_throat` and `to_throat` are throat ids; down runs from the one to the other."""

    id: str
    from_throat: str
    to_throat: str
    length_mm: float
    rule: SectionRule
    directions: tuple[str, ...] = ("up", "down")
    minutes: Mapping[str, float] = field(default_factory=dict)
    token_tags: tuple[str, ...] = ()

    @property
    def throats(self) -> tuple[str, str]:
        """The throats at its ends."""
        return self.from_throat, self.to_throat

    @property
    def stations(self) -> tuple[str, str]:
        """The stations at its ends, as its throats."""
        return self.from_throat.partition(".")[0], self.to_throat.partition(".")[0]


@dataclass(frozen=True, slots=True)
class Station:
    """A named place; `roads` are road ids in the order of the file."""

    id: str
    name: str
    roads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """A board of the plant; `link` is "serial" or "mqtt"; `port` only a hint."""

    id: str
    link: str
    port: str | None = None


@dataclass(frozen=True, slots=True)
class Detector:
    """One input's meaning. Which keys apply depends on `kind`; the others are None or empty."""

    id: str
    kind: DetectorKind
    board: str
    input: int
    covers: str | None = None
    at: str | None = None
    side: str | None = None
    sees: str | None = None
    on: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    guards: str | None = None
    token: str | None = None
    station: str | None = None
    feeds: tuple[str, ...] = ()
    clear_after_ms: float = 0.0
    invert: bool = False


@dataclass(frozen=True, slots=True)
class Boundary:
    """Where end `end` of the road or section `outer` meets end `throat_end` of a throat. `id` is as in the
    folder's files."""

    id: str
    outer: str
    end: int
    throat: str
    throat_end: int

    def end_at(self, stretch: str) -> int:
        """The end of one of its two stretches that lies at it."""
        return self.end if stretch == self.outer else self.throat_end


@dataclass(frozen=True)
class Plant:
    """One railway's plant, all parts by id in the order of the file."""

    id: str
    name: str
    scale: float
    clock: float
    stations: Mapping[str, Station]
    roads: Mapping[str, Road]
    throats: Mapping[str, Throat]
    sections: Mapping[str, Section]
    boards: Mapping[str, Board]
    detectors: Mapping[str, Detector]
    limits: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def boundaries(self) -> dict[str, Boundary]:
        """Every boundary by id: "station.road@end" for a road's open end, "section@station" for a section's end."""
        found: dict[str, Boundary] = {}
        for road in self.roads.values():
            for end in road.open:
                down = end == "down"
                key = f"{road.id}@{end}"
                found[key] = Boundary(key, road.id, int(down), f"{road.station}.{end}", 0 if down else 1)
        for section in self.sections.values():
            for end_no, throat in ((0, section.from_throat), (1, section.to_throat)):
                station, _, side = throat.partition(".")
                key = f"{section.id}@{station}"
                if key in found:  # a section from a station back to itself: its second end is named by throat
                    key = f"{section.id}@{throat}"
                found[key] = Boundary(key, section.id, end_no, throat, 1 if side == "down" else 0)
        return found

    @cached_property
    def at_stretch(self) -> dict[str, tuple[Boundary, ...]]:
        """The boundaries of each stretch (road, throat or section)."""
        found: dict[str, list[Boundary]] = {s: [] for s in (*self.roads, *self.throats, *self.sections)}
        for boundary in self.boundaries.values():
            found[boundary.outer].append(boundary)
            found[boundary.throat].append(boundary)
        return {stretch: tuple(rows) for stretch, rows in found.items()}

    @cached_property
    def covering(self) -> dict[str, tuple[Detector, ...]]:
        """The track detectors of each stretch that has any."""
        return self._detectors_by(lambda d: d.covers if d.kind is DetectorKind.TRACK else None)

    @cached_property
    def standing_at(self) -> dict[str, tuple[Detector, ...]]:
        """The treadles and readers at each boundary that has any."""
        return self._detectors_by(lambda d: d.at if d.kind in (DetectorKind.TREADLE, DetectorKind.READER) else None)

    @cached_property
    def rests(self) -> dict[str, tuple[Detector, ...]]:
        """The rests of each section's token that has any."""
        return self._detectors_by(lambda d: d.token if d.kind is DetectorKind.TOKEN_REST else None)

    def _detectors_by(self, of: Callable[[Detector], str | None]) -> dict[str, tuple[Detector, ...]]:
        """Detectors by what this says of each, but for those of which it says None."""
        found: dict[str, list[Detector]] = {}
        for detector in self.detectors.values():
            found.setdefault(of(detector) or "", []).append(detector)
        return {key: tuple(rows) for key, rows in found.items() if key}

    @cached_property
    def points_for(self) -> dict[str, tuple[Detector, ...]]:
        """The points detectors that name each boundary of a road."""
        found: dict[str, dict[str, Detector]] = {}
        for detector in self.detectors.values():
            if detector.kind is DetectorKind.POINTS and detector.at is not None:
                end = detector.at.rpartition(".")[2]
                for road in (*detector.on, *detector.off):
                    found.setdefault(f"{road}@{end}", {})[detector.id] = detector
        return {boundary: tuple(rows.values()) for boundary, rows in found.items()}

    @cached_property
    def sections_near(self) -> dict[str, tuple[str, ...]]:
        """The sections that something on a stretch may concern: itself, or those that leave its station."""
        leaving: dict[str, list[str]] = {station: [] for station in self.stations}
        for section in self.sections.values():
            for station in dict.fromkeys(section.stations):
                leaving.setdefault(station, []).append(section.id)
        found: dict[str, tuple[str, ...]] = {section: (section,) for section in self.sections}
        for stretch in (*self.roads, *self.throats):
            found[stretch] = tuple(leaving.get(stretch.partition(".")[0], ()))
        return found

    @cached_property
    def proofs(self) -> tuple[Detector, ...]:
        """The detectors that prove something locked."""
        return tuple(d for d in self.detectors.values() if d.kind is DetectorKind.PROOF)

    @cached_property
    def proofs_near(self) -> dict[str, tuple[str, ...]]:
        """The proofs that something on a stretch may concern: those that guard it, or a section that leaves its station."""
        found: dict[str, tuple[str, ...]] = {}
        for detector in self.proofs:
            guards = detector.guards or ""
            section = self.sections.get(guards)
            ends = () if section is None else section.throats
            for stretch in dict.fromkeys((guards, *(s for end in ends for s in self.stretches_of(self.station_of(end))))):
                found[stretch] = (*found.get(stretch, ()), detector.id)
        return found

    def is_blind(self, road: str) -> bool:
        """True for a road of which neither a track detector nor anything at its ends tells."""
        return road not in self.covering and not any(f"{road}@{end}" in self.standing_at for end in self.roads[road].open)

    def stretch_of(self, detector: Detector) -> str | None:
        """The stretch that a track detector covers, or the road or section at whose end a treadle or reader stands."""
        if detector.covers is not None:
            return detector.covers
        boundary = self.boundaries.get(detector.at or "")
        return None if boundary is None else boundary.outer

    def read_at(self, boundary: str) -> bool:
        """True where a tag reader stands at a boundary."""
        return any(d.kind is DetectorKind.READER for d in self.standing_at.get(boundary, ()))

    def length_mm(self, stretch: str) -> float | None:
        """Usable length of a stretch, None where the folder does not limit it."""
        return (self.roads.get(stretch) or self.sections.get(stretch) or self.throats[stretch]).length_mm

    def station_of(self, stretch: str) -> str | None:
        """The station a road or throat belongs to, None for a section."""
        found = self.roads.get(stretch) or self.throats.get(stretch)
        return None if found is None else found.station

    def stretches_of(self, station: str | None) -> tuple[str, ...]:
        """The roads and throats of a station; none where it is none."""
        found = self.stations.get(station or "")
        throats = [throat for throat in (f"{station}.up", f"{station}.down") if throat in self.throats]
        return () if found is None else (*found.roads, *throats)

    def section_between(self, one: str, other: str) -> Section | None:
        """The section by which a train runs from one station to another, None where none does. Where several join them, the
        first whose `directions` allow it."""
        return self._joining.get((one, other))

    @cached_property
    def _joining(self) -> dict[tuple[str, str], Section]:
        found: dict[tuple[str, str], Section] = {}
        closed: dict[tuple[str, str], Section] = {}
        for section in self.sections.values():
            one, other = section.stations
            for way, pair in (("down", (one, other)), ("up", (other, one))):
                (found if way in section.directions else closed).setdefault(pair, section)
        return {**closed, **found}
