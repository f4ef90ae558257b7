"""Boards and detectors of a grown railway, as one of several kinds of owner would place them.

Rule: a board has at most `INPUTS` of its inputs in use and stands at one station. A section worked by track circuit has its
detector whatever the owner likes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import count
from random import Random
from typing import Any

from bridge.core.plant import Board, Detector, DetectorKind, Road, RoadKind, Section, SectionRule
from bridge.virtual.growing.line import BOTH, Line

INPUTS = 12
CLEAR_AFTER_MS = {DetectorKind.TRACK: 1000.0, DetectorKind.TOKEN_REST: 500.0}


@dataclass(frozen=True, slots=True)
class Layout:
    """How an owner places detectors: the share of the places (0 to 1) that have one."""

    running: float = 0.0
    """Roads for trains with a track detector."""
    sidings: float = 0.0
    throats: float = 0.0
    sections: float = 0.0
    end_readers: float = 0.0
    """Section ends with a reader."""
    end_treadles: float = 0.0
    end_pairs: float = 0.0
    """Of those treadles and readers so many come in pairs, one on either side."""
    mouths: float = 0.0
    """Mouths of sidings with a reader."""
    mouth_treadles: float = 0.0
    points: float = 0.0
    """Mouths of sidings of which a points contact tells."""
    proofs: float = 0.0
    power: float = 0.0
    """Stations with a detector of track power."""
    rests: float = 0.0
    """Ends of token sections with a rest."""


LAYOUTS: Mapping[str, Layout] = {
    "mouths": Layout(running=0.7, end_readers=0.9, end_treadles=0.4, end_pairs=0.2, mouths=0.95, rests=0.8),
    "sidings": Layout(running=1.0, sidings=1.0, throats=0.6, sections=0.3, end_readers=0.3, points=0.4, power=0.3),
    "limits": Layout(sections=0.5, end_readers=0.7, end_treadles=0.9, end_pairs=0.5, rests=0.9, proofs=0.2),
    "whole": Layout(1.0, 1.0, 1.0, 1.0, 1.0, 0.7, 0.3, 1.0, 0.3, 0.6, 0.2, 0.5, 1.0),
    "few": Layout(running=0.3, sidings=0.1, end_readers=0.3, end_treadles=0.3, mouths=0.2, mouth_treadles=0.2),
}
"""By name: readers at mouths of sidings, detectors in sidings, all at the limits of stations, everything, and little."""


def detected(line: Line, layout: Layout, chance: Random) -> tuple[dict[str, Board], dict[str, Detector]]:
    """The boards and detectors of a line."""
    placing = _Placing(line, layout, chance)
    for station in line.stations:
        placing.station(station)
    return placing.boards, placing.detectors


class _Placing:
    """Places detectors station by station."""

    def __init__(self, line: Line, layout: Layout, chance: Random) -> None:
        self._line, self._layout, self._chance = line, layout, chance
        self.boards: dict[str, Board] = {}
        self.detectors: dict[str, Detector] = {}
        self._used: dict[str, int] = {}
        self._link = chance.choice(("serial", "serial", "mqtt", "either"))
        self._inverts = chance.choice((0.0, 0.0, 0.15))

    def station(self, station: str) -> None:
        """Everything whose board stands at this station."""
        line, layout = self._line, self._layout
        for road in (line.roads[r] for r in line.stations[station].roads):
            if self._happens(layout.running if road.kind in (RoadKind.RUNNING, RoadKind.LOOP) else layout.sidings):
                self._track(station, road.id, road.name)
            if road.kind is RoadKind.SIDING:
                self._mouth(station, road)
        for end in BOTH:
            if self._happens(layout.throats):
                self._track(station, f"{station}.{end}", f"{end}-throat")
        for section in line.sections.values():
            if station in (section.from_throat.partition(".")[0], section.to_throat.partition(".")[0]):
                self._section_end(station, section)
        if self._happens(layout.power):
            feeds = (*line.stations[station].roads, f"{station}.up", f"{station}.down")
            self._add(station, "power", DetectorKind.POWER, feeds=feeds)

    def _happens(self, share: float) -> bool:
        return self._chance.random() < share

    def _track(self, station: str, stretch: str, name: str) -> None:
        self._add(station, name, DetectorKind.TRACK, covers=stretch, clear_after_ms=self._chance.choice((1000.0, 1500.0)))

    def _mouth(self, station: str, road: Road) -> None:
        layout, (end,) = self._layout, road.open
        if self._happens(layout.mouths):
            self._add(station, f"{road.name}-reader", DetectorKind.READER, at=f"{road.id}@{end}")
        if self._happens(layout.mouth_treadles):
            sees = self._chance.choice(("any", "engine"))
            self._add(station, f"{road.name}-treadle", DetectorKind.TREADLE, at=f"{road.id}@{end}", sees=sees)
        if self._happens(layout.points):
            others = [r.id for r in self._line.roads.values() if r.station == station and end in r.open and r.id != road.id]
            off = tuple(others[:2])
            self._add(station, f"{road.name}-points", DetectorKind.POINTS, at=f"{station}.{end}", on=(road.id,), off=off)

    def _section_end(self, station: str, section: Section) -> None:
        layout, name = self._layout, section.id
        is_from = section.from_throat.partition(".")[0] == station
        at = f"{section.id}@{station}"
        if is_from and (section.rule is SectionRule.TRACK_CIRCUIT or self._happens(layout.sections)):
            self._track(station, section.id, name)
        if self._happens(layout.end_readers):
            self._pair(station, f"{name}-reader", DetectorKind.READER, at=at)
        if self._happens(layout.end_treadles):
            sees = self._chance.choice(("engine", "tail", "any"))
            self._pair(station, f"{name}-{sees}", DetectorKind.TREADLE, at=at, sees=sees)
        if is_from and self._happens(layout.proofs):
            self._add(station, f"{name}-bridge", DetectorKind.PROOF, guards=section.id)
        if section.token_tags and self._happens(layout.rests):
            self._add(station, f"{name}-rest", DetectorKind.TOKEN_REST, token=section.id, station=station)

    def _pair(self, station: str, name: str, kind: DetectorKind, **keys: Any) -> None:
        if not self._happens(self._layout.end_pairs):
            self._add(station, name, kind, **keys)
            return
        for side in BOTH:
            self._add(station, f"{name}-{side}", kind, side=side, **keys)

    def _add(self, by: str, name: str, kind: DetectorKind, **keys: Any) -> None:
        """A detector on a board of the station `by`."""
        board, number = self._input(by)
        if kind not in (DetectorKind.READER, DetectorKind.TOKEN_REST):
            keys["invert"] = self._happens(self._inverts)
        keys.setdefault("clear_after_ms", CLEAR_AFTER_MS.get(kind, 0.0))
        full = f"{by}-{name}"
        self.detectors[full] = Detector(full, kind, board, number, **keys)

    def _input(self, station: str) -> tuple[str, int]:
        """The next free input at a station; a board more where all are full."""
        for n in count(1):
            board = station if n == 1 else f"{station}-{n}"
            if board not in self.boards:
                link = self._chance.choice(("serial", "mqtt")) if self._link == "either" else self._link
                self.boards[board] = Board(board, link)
            if self._used.get(board, 0) < INPUTS:
                self._used[board] = self._used.get(board, 0) + 1
                return board, self._used[board]
        raise AssertionError("boards never end")
