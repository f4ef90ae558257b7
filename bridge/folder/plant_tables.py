"""The tables of railway.toml that are screwed down: railway, stations with roads and throats, sections, boards.

Rule: a table with a fault is still entered, with something harmless in the place of what is wrong, so that what refers to it
is not told as missing; a folder with a fault never becomes a railway.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

from bridge.core.plant import Board, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.folder.fields import Fields, Word
from bridge.folder.finding import Findings, Spot, did_you_mean, listed
from bridge.folder.places import Places
from bridge.folder.toml_values import Table

ENDS = ("up", "down")
TAG = re.compile(r"(?:[0-9A-F]{2}){2,10}")


class PlantTables:
    """Reads stations, sections and boards into `places`; `settle` resolves what refers forward."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.findings = places.findings
        self.boards: dict[str, Board] = {}
        self._fouls: dict[str, list[Word] | None] = {}
        self._reaches: dict[str, list[Word]] = {}
        self._necks: list[tuple[str, str, Spot]] = []

    def stations(self, tables: list[Table], head: Spot) -> None:
        """Every `[[station]]` with its roads and throats."""
        if not tables:
            self.findings.fault(
                head, "There is no [[station]].", "Add one for every station, with its `[[station.road]]` tables."
            )
        for table in tables:
            fields = Fields(table, "this [[station]]", self.findings)
            found = fields.id("id", '"alder"')
            fields.what = f"station {found}" if found else "this [[station]]"
            name = fields.text("name", '"Alder"')
            roads, throats = fields.inner_tables("road"), fields.inner_tables("throat")
            fields.done()
            if found is None or not self.places.first(fields.spot("id"), "station", found):
                self._aside(roads, throats)
                continue
            ids = [self._road(found, road) for road in roads]
            if not roads:
                self.findings.fault(table.spot, f"Station {found} has no road.", "Add a `[[station.road]]` below it.")
            self.places.stations[found] = Station(found, name or found, tuple(i for i in ids if i is not None))
            for end in ENDS:
                self.places.throats[f"{found}.{end}"] = Throat(f"{found}.{end}", found, end)
            for throat in throats:
                self._throat(found, throat)

    def _aside(self, roads: list[Table], throats: list[Table]) -> None:
        """Roads and throats of a station without an id, or with one taken: told, and not entered."""
        apart = PlantTables(Places(self.findings))
        for road in roads:
            apart._road("", road)
        for throat in throats:
            apart._throat("", throat)

    def _road(self, station: str, table: Table) -> str | None:
        fields = Fields(table, "this [[station.road]]", self.findings)
        name = fields.id("id", '"platform"')
        fields.what = f"road {station}.{name}" if name else "this [[station.road]]"
        kind = fields.choice("kind", [str(kind) for kind in RoadKind])
        length = fields.number("length", "1400")
        open_ = self._ends(fields, "open", '["up", "down"]', required=True)
        fouls = fields.words("fouls", '["platform"]', required=False) if fields.has("fouls") else None
        reaches = fields.words("reaches", '["alder-birch"]', required=False)
        if fouls is None:
            fields.words("fouls", "[]", required=False)
        fields.done()
        if name is None:
            return None
        if name in ENDS:
            fields.wrong(
                "id", f'A road cannot be called "{name}": {station}.{name} is the throat.', "Give the road another id."
            )
        full = f"{station}.{name}"
        if not self.places.first(fields.spot("id"), "road", full):
            return None
        self.places.spots["road.length", full] = fields.spot("length")
        kept = RoadKind(kind) if kind else RoadKind.SIDING
        self.places.roads[full] = Road(full, station, name, kept, length or math.inf, open_ or ENDS)
        self._fouls[full] = fouls
        self._reaches[full] = reaches
        return full

    def _ends(self, fields: Fields, key: str, example: str, required: bool) -> tuple[str, ...]:
        words = fields.words(key, example, required)
        for word, spot in words:
            if word not in ENDS:
                remedy = did_you_mean(word, ENDS, 'Write "up" or "down".')
                self.findings.fault(spot, f'`{key}` of {fields.what} names the ends "up" and "down", not "{word}".', remedy)
        if not words and fields.is_empty_list(key):
            fields.wrong(key, f"`{key}` of {fields.what} names no end.", f"Write for example `{key} = {example}`.")
        return tuple(end for end in ENDS if end in (word for word, _ in words))

    def _throat(self, station: str, table: Table) -> None:
        fields = Fields(table, f"this [[station.throat]] of {station}", self.findings)
        end = fields.choice("end", ENDS)
        length = fields.number("length", "600", required=False)
        neck = fields.text("headshunt", '"neck"', required=False)
        fields.done()
        if end is None or not self.places.first(fields.spot("end"), "throat", f"{station}.{end}"):
            return
        full = f"{station}.{end}"
        self.places.throats[full] = Throat(full, station, end, length)
        if neck is not None:
            self._necks.append((full, neck, fields.spot("headshunt")))

    def sections(self, tables: list[Table]) -> None:
        """Every `[[section]]`."""
        for table in tables:
            fields = Fields(table, "this [[section]]", self.findings)
            found = fields.id("id", '"alder-birch"')
            fields.what = f"section {found}" if found else "this [[section]]"
            ends = [self._section_end(fields, key) for key in ("from", "to")]
            length = fields.number("length", "5200")
            rule = fields.choice("rule", [str(rule) for rule in SectionRule])
            directions = self._ends(fields, "directions", '["up", "down"]', required=False)
            minutes = self._minutes(fields)
            tags = self._token_tags(fields, rule)
            fields.done()
            if ends[0] is not None and ends[0] == ends[1]:
                fields.wrong("to", f"{fields.what} begins and ends at the same throat.", "Name the throat at its other end.")
            if found == "off":
                fields.wrong(
                    "id",
                    'A section cannot be called "off": that is where vehicles are that left the railway.',
                    "Give it another id.",
                )
            if found is None or not self.places.first(fields.spot("id"), "section", found):
                continue
            if ends[0] is None or ends[1] is None:
                continue
            kept = SectionRule(rule) if rule else SectionRule.TOKEN
            self.places.sections[found] = Section(
                found, ends[0], ends[1], length or math.inf, kept, directions or ENDS, minutes, tags
            )

    def _section_end(self, fields: Fields, key: str) -> str | None:
        word = fields.text(key, '"alder.down"')
        return None if word is None else self.places.place(word, fields.spot(key), "throat")

    def _minutes(self, fields: Fields) -> dict[str, float]:
        table = fields.inner("minutes", "{ goods = 6, passenger = 4 }")
        if table is None:
            return {}
        inner = Fields(table, f"minutes of {fields.what}", self.findings)
        found = {kind: inner.number(kind, "6", required=False) for kind in ("goods", "passenger")}
        inner.done()
        return {kind: minutes for kind, minutes in found.items() if minutes is not None}

    def _token_tags(self, fields: Fields, rule: str | None) -> tuple[str, ...]:
        found: list[str] = []
        for word, spot in fields.words("token_tags", '["04A1003B68"]', required=False):
            tag = tag_of(word, spot, self.findings)
            if tag is not None and self.places.first(spot, "tag", tag):
                found.append(tag)
        if fields.has("token_tags") and rule in ("one-train", "track-circuit"):
            fields.wrong(
                "token_tags",
                f"{fields.what} is worked by {rule}: it has no token.",
                'Take the tags out, or write `rule = "token"`.',
            )
        return tuple(found)

    def board_tables(self, tables: list[Table]) -> None:
        """Every `[[board]]`."""
        for table in tables:
            fields = Fields(table, "this [[board]]", self.findings)
            found = fields.id("id", '"alder"')
            fields.what = f"board {found}" if found else "this [[board]]"
            link = fields.choice("link", ("serial", "mqtt"))
            port = fields.text("port", '"/dev/ttyUSB0"', required=False)
            fields.done()
            if found is not None and len(found) > 16:
                fields.wrong(
                    "id", "A board's id has at most 16 characters.", f'Write for example "{found[:16].rstrip("-")}".'
                )
            if port is not None and link == "mqtt":
                self.findings.advice(
                    fields.spot("port"), f"Board {found} speaks over MQTT: its `port` is not used.", "Take it out."
                )
            if found is not None and self.places.first(fields.spot("id"), "board", found):
                self.boards[found] = Board(found, link or "serial", port)

    def settle(self) -> None:
        """Resolve what roads and throats say of each other and of sections."""
        for full, fouls in self._fouls.items():
            road = self.places.roads[full]
            self.places.roads[full] = replace(road, fouls=self._fouled(road, fouls), reaches=self._reached(road))
        for throat, word, spot in self._necks:
            station, _, end = throat.partition(".")
            neck = self.places.road_of(station, word, spot)
            if neck is None:
                continue
            if end not in self.places.roads[neck].open:
                self.findings.fault(
                    spot, f"Road {neck} is not open at its {end} end, so it is no neck of {throat}.", "Name a road that is."
                )
            self.places.throats[throat] = replace(self.places.throats[throat], headshunt=neck)

    def _fouled(self, road: Road, words: list[Word] | None) -> tuple[str, ...]:
        if words is None:
            same = (other for other in self.places.roads.values() if other.station == road.station and other.id != road.id)
            return tuple(other.id for other in same if set(other.open) & set(road.open))
        found: list[str] = []
        for word, spot in words:
            other = self.places.road_of(road.station, word, spot)
            if other == road.id:
                self.findings.fault(spot, f"Road {road.id} cannot foul itself.", "Take it out.")
            elif other is not None:
                found.append(other)
        return tuple(dict.fromkeys(found))

    def _reached(self, road: Road) -> tuple[str, ...]:
        found: list[str] = []
        for word, spot in self._reaches[road.id]:
            section = self.places.place(word, spot, "section")
            if section is None:
                continue
            ends = {self.places.sections[section].from_throat, self.places.sections[section].to_throat}
            if ends.isdisjoint(f"{road.station}.{end}" for end in road.open):
                here = [
                    s.id for s in self.places.sections.values() if f"{road.station}." in f"{s.from_throat} {s.to_throat}"
                ]
                self.findings.fault(
                    spot, f"Section {section} leaves no open end of road {road.id}.", f"Sections here are {listed(here)}."
                )
            found.append(section)
        return tuple(found)


def tag_of(word: str, spot: Spot, findings: Findings) -> str | None:
    """A tag in upper case; one that is none is told."""
    tag = word.upper()
    if TAG.fullmatch(tag):
        return tag
    bare = re.sub(r"[\s:.\-]", "", tag).removeprefix("0X")
    remedy = f'Write "{bare}".' if TAG.fullmatch(bare) else "Write it as the reader sends it, for example 04A1003B68."
    findings.fault(spot, f'"{word}" is no tag: a tag is an even number of 4 to 20 hexadecimal digits (0-9, A-F).', remedy)
    return None
