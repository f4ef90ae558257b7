"""The stations of a sketch with their roads, and the line between them.

Rule: what no train could use is told: a station without roads, one that no road joins to the line, two of one name.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.plant import Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.folder.making.ids import Ids
from bridge.folder.making.sketch import RoadSketch, SectionSketch, Sketch, StationSketch
from bridge.folder.making.wrongs import Wrongs
from bridge.folder.plant_tables import ENDS

KINDS = tuple(str(kind) for kind in RoadKind)
RULES = tuple(str(rule) for rule in SectionRule)
LONGEST_SECTION = 40
MOST_MINUTES = 600.0


@dataclass
class Track:
    """What is screwed down. `by_number`: the ids of each station's roads, as the sketch counts them; `named`: roads by id as
    people say them, where the id is not the same."""

    wrongs: Wrongs
    stations: dict[str, Station] = field(default_factory=dict)
    roads: dict[str, Road] = field(default_factory=dict)
    throats: dict[str, Throat] = field(default_factory=dict)
    sections: dict[str, Section] = field(default_factory=dict)
    by_number: list[list[str]] = field(default_factory=list)
    named: dict[str, str] = field(default_factory=dict)


def laid(sketch: Sketch, wrongs: Wrongs) -> Track:
    """The track of a sketch, as far as it can be read."""
    track, ids = Track(wrongs), Ids("station")
    if not sketch.stations:
        wrongs.say("stations", "There is no station yet.", "Name the first one at the up end of the line.")
    for n, station in enumerate(sketch.stations):
        name = wrongs.name(f"stations.{n}.name", station.name, "This station", "Alder")
        _tell_same(name, [other.name for other in sketch.stations[:n]], f"stations.{n}.name", "stations", wrongs)
        _station(track, n, ids.of(name), station)
    _line(track, sketch.sections)
    return track


def _tell_same(name: str, earlier: list[str], where: str, what: str, wrongs: Wrongs) -> None:
    if name and name.casefold() in (other.strip().casefold() for other in earlier):
        wrongs.say(where, f"There are two {what} called “{name}”.", "Call one of them otherwise, for example with a number.")


def _station(track: Track, n: int, id_: str, sketch: StationSketch) -> None:
    ids, where = Ids("road", ENDS), f"stations.{n}"
    name = sketch.name.strip() or f"station {n + 1}"
    if not sketch.roads:
        track.wrongs.say(
            f"{where}.roads", f"{name} has no road yet.", "Every station has one at least: the road at its platform."
        )
    roads = []
    for r, road in enumerate(sketch.roads):
        called = track.wrongs.name(f"{where}.roads.{r}.name", road.name, f"This road of {name}", "Platform")
        before = [other.name for other in sketch.roads[:r]]
        _tell_same(called, before, f"{where}.roads.{r}.name", f"roads of {name}", track.wrongs)
        short = ids.of(called)
        roads.append(_road(track, f"{where}.roads.{r}", id_, short, road))
        if called != short:
            track.named[roads[-1]] = called
    track.stations[id_] = Station(id_, name, tuple(roads))
    track.by_number.append(roads)
    for end in ENDS:
        track.throats[f"{id_}.{end}"] = Throat(f"{id_}.{end}", id_, end)


def _road(track: Track, where: str, station: str, short: str, sketch: RoadSketch) -> str:
    wrongs, what = track.wrongs, sketch.name.strip() or "this road"
    kind = wrongs.choice(f"{where}.kind", sketch.kind, KINDS, "kind of road")
    length = wrongs.length(f"{where}.length", sketch.length, what, "1400")
    ends = tuple(end for end in ENDS if end in sketch.open)
    if not ends or set(sketch.open) - set(ENDS):
        wrongs.say(
            f"{where}.open",
            f"{what} is open at no end: nothing gets in.",
            "Say at which end a train can come in, or at both.",
        )
    full = f"{station}.{short}"
    track.roads[full] = Road(full, station, short, RoadKind(kind), length, ends or ENDS)
    return full


def _line(track: Track, sketches: tuple[SectionSketch, ...]) -> None:
    wrongs, ids, stations = track.wrongs, Ids("section", ("off",), LONGEST_SECTION), list(track.stations.values())
    if len(sketches) != max(0, len(stations) - 1):
        wrongs.say(
            "sections",
            f"Between {len(stations)} stations are {max(0, len(stations) - 1)} sections; here are {len(sketches)}.",
            "Say of the line between each two stations how long it is.",
        )
    for n, (sketch, down) in enumerate(zip(sketches, stations[1:], strict=False)):
        up, end = _start(track, n, sketch)
        what = f"the line between {up.name} and {down.name}"
        length = wrongs.length(f"sections.{n}.length", sketch.length, what, "5200")
        rule = wrongs.choice(f"sections.{n}.rule", sketch.rule, RULES, "way of working the line")
        minutes = {
            kind: wrongs.number(f"sections.{n}.{kind}", typed, f"the minutes of a {kind} train", "6", MOST_MINUTES)
            for kind, typed in (("goods", sketch.goods), ("passenger", sketch.passenger))
            if typed.strip()
        }
        _tell_unjoined(track, up, end, down)
        _tell_unjoined(track, down, "up", up)
        id_ = ids.of(f"{up.id}-{down.id}")
        track.sections[id_] = Section(id_, f"{up.id}.{end}", f"{down.id}.up", length, SectionRule(rule), minutes=minutes)


def _start(track: Track, n: int, sketch: SectionSketch) -> tuple[Station, str]:
    """The station from which the line to the station behind comes, and the end by which it leaves there."""
    stations = list(track.stations.values())
    if not sketch.start.strip():
        return stations[n], "down"
    number, _, end = sketch.start.partition(".")
    if number.isascii() and number.isdigit() and len(number) < 4 and int(number) <= n and end in ENDS:
        return stations[int(number)], end
    track.wrongs.say(
        f"sections.{n}.start",
        f"The line to {stations[n + 1].name} comes from no station further up in the list.",
        "Choose one of those, and the end by which it leaves there.",
    )
    return stations[n], "down"


def _tell_unjoined(track: Track, station: Station, end: str, other: Station) -> None:
    """A station that the line reaches at an end at which none of its roads is open."""
    n = list(track.stations).index(station.id)
    if station.roads and not any(end in track.roads[road].open for road in station.roads):
        track.wrongs.say(
            f"stations.{n}.roads.0.open",
            f"No road of {station.name} is open at its {end} end, where the line comes in from {other.name}.",
            f"Open one at its {end} end.",
        )
