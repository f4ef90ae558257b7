"""What is wired, by the answer to one question: boards, one a station, and their detectors on inputs from 1.

Rule: a board has the id of its station; nothing is wired that was not chosen.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.plant import Board, Detector, DetectorKind, Section, SectionRule
from bridge.folder.detector_tables import CLEAR_AFTER_MS
from bridge.folder.making.ids import Ids
from bridge.folder.making.sketch import Sketch
from bridge.folder.making.track import Track
from bridge.folder.making.wrongs import Wrongs
from bridge.folder.setting_tables import Broker

READERS = ("none", "section-ends", "road-mouths")
LINKS = ("serial", "mqtt")
HERE = "127.0.0.1"
LONGEST_ID = 48


@dataclass
class Wiring:
    """Boards and detectors by id, and where boards on MQTT are heard."""

    boards: dict[str, Board] = field(default_factory=dict)
    detectors: dict[str, Detector] = field(default_factory=dict)
    broker: Broker | None = None


def wired(sketch: Sketch, track: Track, wrongs: Wrongs) -> Wiring:
    """The wiring of a sketch."""
    wiring = Wiring()
    readers = wrongs.choice("readers", sketch.readers, READERS, "choice")
    link = wrongs.choice("link", sketch.link, LINKS, "wire")
    circuits = [section for section in track.sections.values() if section.rule is SectionRule.TRACK_CIRCUIT]
    if circuits and not sketch.track:
        wrongs.say(
            "track",
            f"The line {circuits[0].id} is worked by track circuit: it needs track detectors, and none are wired.",
            "Say here that there are track detectors, or go back and work the line by another rule.",
        )
    if readers == "none" and not sketch.track:
        return wiring
    if link == "mqtt":
        wiring.broker = Broker(_host(sketch.broker, wrongs))
    ids = Ids("detector", longest=LONGEST_ID)
    for station in track.stations:
        wiring.boards[station] = Board(station, link)
        _station(wiring, station, readers, sketch.track, track, ids)
    return wiring


def _host(typed: str, wrongs: Wrongs) -> str:
    host = typed.strip() or HERE
    if len(host) > 253 or not all(sign.isascii() and (sign.isalnum() or sign in "-.:_") for sign in host):
        wrongs.say(
            "broker", f"“{host[:30]}” is no name or address of a computer.", f"Write for example {HERE}, which is this one."
        )
        return HERE
    return host


def _station(wiring: Wiring, station: str, readers: str, has_track: bool, track: Track, ids: Ids) -> None:
    """The detectors of one board, in the order in which somebody walks along the station."""
    sections = [section for section in track.sections.values() if station in _ends(section)]
    roads = track.stations[station].roads
    inputs = iter(range(1, 10_000))

    def add(kind: DetectorKind, name: str, covers: str | None = None, at: str | None = None) -> None:
        id_ = ids.of(name)
        clear_after_ms = CLEAR_AFTER_MS.get(kind, 0.0)
        wiring.detectors[id_] = Detector(
            id_, kind, station, next(inputs), covers=covers, at=at, clear_after_ms=clear_after_ms
        )

    if readers != "none":
        for section in sections:
            add(DetectorKind.READER, f"{section.id}-at-{station}", at=f"{section.id}@{station}")
    if readers == "road-mouths":
        for road in roads:
            for end in track.roads[road].open:
                add(DetectorKind.READER, f"{road}-{end}", at=f"{road}@{end}")
    if has_track:
        for road in roads:
            add(DetectorKind.TRACK, f"{road}-track", covers=road)
        for section in sections:
            if section.rule is SectionRule.TRACK_CIRCUIT and _ends(section)[0] == station:
                add(DetectorKind.TRACK, f"{section.id}-track", covers=section.id)


def _ends(section: Section) -> tuple[str, str]:
    return section.from_throat.partition(".")[0], section.to_throat.partition(".")[0]
