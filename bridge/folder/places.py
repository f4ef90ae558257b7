"""What the words of a folder refer to: roads, throats, sections, boundaries, vehicles.

Rule: a word that refers to nothing is told at its own place, with the likeliest one where there is one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from bridge.core.plant import Boundary, Plant, Road, Section, Station, Throat
from bridge.folder.fields import Word
from bridge.folder.finding import Findings, Spot, did_you_mean, listed

Key = tuple[str | int, ...]


@dataclass
class Places:
    """The stations, roads, throats and sections read so far, and where each thing of the folder stands in its file.

    `doubtful`: ("vehicle", id) and ("working", id) with a row that could not be read: nothing is concluded from the others.
    """

    findings: Findings
    stations: dict[str, Station] = field(default_factory=dict)
    roads: dict[str, Road] = field(default_factory=dict)
    throats: dict[str, Throat] = field(default_factory=dict)
    sections: dict[str, Section] = field(default_factory=dict)
    spots: dict[Key, Spot] = field(default_factory=dict)
    doubtful: set[Key] = field(default_factory=set)
    whereabouts_read: bool = False
    timetable_read: bool = False
    moves_read: bool = False

    def first(self, spot: Spot, *key: str | int) -> bool:
        """Note where a thing stands. False, and a fault, where the same one stands already."""
        earlier = self.spots.get(key)
        if earlier is None:
            self.spots[key] = spot
            return True
        self.findings.fault(
            spot,
            f'There are two {key[0]}s "{key[-1]}": the first stands in {earlier.named()}.',
            "Give one of them another id, or take it out.",
        )
        return False

    def kinds(self, *wanted: str) -> dict[str, str]:
        """Every place of the wanted kinds ("road", "throat", "section"), each with its kind."""
        stores: Mapping[str, Collection[str]] = {"road": self.roads, "throat": self.throats, "section": self.sections}
        return {name: kind for kind in wanted for name in stores[kind]}

    def place(self, word: str, spot: Spot, *wanted: str) -> str | None:
        """A road, throat or section by its full id, as far as they are wanted here."""
        stores: Mapping[str, Collection[str]] = {"road": self.roads, "throat": self.throats, "section": self.sections}
        if any(word in stores[kind] for kind in wanted):
            return word
        known = self.kinds(*wanted)
        ending = [name for name in known if name.endswith("." + word)]
        what = " or ".join([", ".join(wanted[:-1]), wanted[-1]] if len(wanted) > 1 else wanted)
        if word in self.kinds("road", "throat", "section"):
            kind = self.kinds("road", "throat", "section")[word]
            self.findings.fault(spot, f'"{word}" is a {kind}; here stands a {what}.', f"Known are {listed(known)}.")
        elif len(ending) == 1:
            self.findings.fault(spot, f'"{word}" is not the full name of a {what}.', f'Write "{ending[0]}".')
        else:
            remedy = did_you_mean(word, known, f"Known are {listed(known)}.")
            self.findings.fault(spot, f'There is no {what} "{word}".', remedy)
        return None

    def road_of(self, station: str, word: str, spot: Spot) -> str | None:
        """A road of one station, by its short or full id."""
        own = {road.id: road for road in self.roads.values() if road.station == station}
        full = word if "." in word else f"{station}.{word}"
        if full in own:
            return full
        short = [road.name for road in own.values()]
        remedy = did_you_mean(word.rpartition(".")[2], short, f"Roads of {station} are {listed(short)}.")
        self.findings.fault(spot, f'Station {station} has no road "{word}".', remedy)
        return None

    def boundary(self, word: str, spot: Spot, boundaries: Mapping[str, Boundary]) -> str | None:
        """A boundary: a road's open end or a section's end."""
        if word in boundaries:
            return word
        outer, at, end = word.partition("@")
        known = [name for name in boundaries if name.partition("@")[0] == outer]
        if not at:
            own = [name for name in boundaries if name.partition("@")[0] == word]
            message = f'"{word}" is no boundary: a boundary is written road@end or section@station.'
            remedy = f"Write {' or '.join(own)}." if own else 'For example "alder.dock@down" or "alder-birch@alder".'
        elif outer in self.roads and end in ("up", "down"):
            message = f"Road {outer} is not open at its {end} end: nothing passes there."
            remedy = f"Write {' or '.join(known)}, or give the road this end in `open`."
        elif outer in self.roads:
            message, remedy = f'A road\'s boundary is its up or its down end, not "{end}".', f"Write {' or '.join(known)}."
        elif outer in self.sections:
            message, remedy = f'Section {outer} has no end at "{end}".', f"Write {' or '.join(known)}."
        else:
            message = f'There is no boundary "{word}".'
            remedy = did_you_mean(word, boundaries, f"Known are {listed(boundaries)}.")
        self.findings.fault(spot, message, remedy)
        return None

    def places(self, words: list[Word], *wanted: str) -> tuple[str, ...]:
        """Several places; those that exist."""
        found = (self.place(word, spot, *wanted) for word, spot in words)
        return tuple(name for name in found if name is not None)


def one_of(word: str, spot: Spot, known: Collection[str], what: str, findings: Findings) -> str | None:
    """An id that must be among the known ones of its kind ("vehicle", "working", "board")."""
    if word in known:
        return word
    findings.fault(spot, f'There is no {what} "{word}".', did_you_mean(word, known, f"Known are {listed(known)}."))
    return None


def without_detectors(plant: Places) -> Plant:
    """The plant as far as it is read, for its boundaries."""
    return Plant("", "", 1.0, 1.0, plant.stations, plant.roads, plant.throats, plant.sections, {}, {})
