"""timetable.csv: workings and their calls, a row a call.

Rule: what is the same for the whole working (kind, engine) may stand in every row or in one, and must not differ.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.core.plan import Call, Vehicle, Working
from bridge.folder.columns import Columns, Row
from bridge.folder.fields import tell_bad_id
from bridge.folder.finding import Findings, Spot, did_you_mean
from bridge.folder.places import Places, one_of

KINDS = ("goods", "passenger")
REQUIRED = ("working", "kind", "engine", "road")
_TIME = re.compile(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d))?")


@dataclass
class _Draft:
    """A working while its rows are read."""

    first: Spot
    kind: tuple[str, Spot] | None = None
    engine: tuple[str, Spot] | None = None
    rake: tuple[str, ...] = ()
    calls: list[Call] = field(default_factory=list)
    waits: list[list[tuple[str, Spot]]] = field(default_factory=list)


class Timetable:
    """Reads the rows; `stock` is None where it could not be read: then any vehicle will do."""

    def __init__(self, places: Places, stock: Mapping[str, Vehicle] | None) -> None:
        self.places = places
        self.findings: Findings = places.findings
        self.stock = stock
        self._drafts: dict[str, _Draft] = {}

    def read(self, sheet: Columns) -> dict[str, Working]:
        """Every working by id, in the order of the file."""
        self.places.timetable_read = True
        before = "-"
        for row in sheet.rows:
            name = row.required("working", self.findings)
            if "" in (name, before):  # a row nobody can place may be one of the working above or below
                self.places.doubtful.update((("working", name), ("working", before)))
            before = name
            if name and name not in self._drafts:
                self._drafts[name] = _Draft(row.at("working"))
                tell_bad_id(name, row.at("working"), self.findings)
                self.places.spots["working", name] = row.at("working")
            self._row(row, self._drafts.get(name, _Draft(row.at("working"))), name)
        return {name: self._made(name, draft, sheet) for name, draft in self._drafts.items()}

    def _row(self, row: Row, draft: _Draft, name: str) -> None:
        draft.kind = self._same(row, "kind", draft.kind, name)
        draft.engine = self._same(row, "engine", draft.engine, name)
        station, road = self._road(row)
        arrive, depart = self._time(row, "arrive"), self._time(row, "depart")
        if arrive is not None and depart is not None and depart < arrive:
            self.findings.fault(
                row.at("depart"),
                f"It departs at {row.text('depart')} and arrives only at {row.text('arrive')}.",
                "Correct one of the two; past midnight times go on: 24:05.",
            )
        self._rake(row, draft)
        if station is None or road is None:
            self.places.doubtful.add(("working", name))
            return
        index = len(draft.calls)
        for column in ("station", "road", "arrive", "depart", "rake", "wait_for"):
            self.places.spots[f"call.{column}", name, index] = row.at(column)
        self.places.spots["call", name, index] = row.spot
        draft.calls.append(Call(index, station, road, arrive, depart))
        draft.waits.append(row.words("wait_for"))

    def _same(self, row: Row, column: str, earlier: tuple[str, Spot] | None, name: str) -> tuple[str, Spot] | None:
        """The kind or engine of the working; the first row that says it stands."""
        said = row.text(column)
        if not said:
            return earlier
        if earlier is not None:
            if said != earlier[0]:
                message = f"The {column} of working {name} is {earlier[0]} in line {earlier[1].line}, and {said} here."
                self.findings.fault(
                    row.at(column), message, "A working keeps one throughout: write the same, or make it another working."
                )
            return earlier
        if column == "kind" and said not in KINDS:
            remedy = did_you_mean(said, KINDS, "Write goods or passenger.")
            self.findings.fault(row.at("kind"), f'"{said}" is no kind of working.', remedy)
        if column == "engine" and self.stock is not None:
            vehicle = one_of(said, row.at("engine"), self.stock, "vehicle", self.findings)
            if vehicle is not None and self.stock[vehicle].kind in ("wagon", "brake", "coach"):
                message = f"{said} is no engine but a {self.stock[vehicle].kind}."
                self.findings.fault(row.at("engine"), message, "Name an engine, or correct its kind in stock.csv.")
        return said, row.at(column)

    def _road(self, row: Row) -> tuple[str | None, str | None]:
        """Station and full road. The station may be left out where the road's full name says it."""
        station, road = row.text("station"), row.text("road")
        if station and one_of(station, row.at("station"), self.places.stations, "station", self.findings) is None:
            return None, None
        if not road:
            row.required("road", self.findings)
            return station or None, None
        if "." in road:
            full = self.places.place(road, row.at("road"), "road")
            if full is not None and station and self.places.roads[full].station != station:
                message = f"Road {full} is not at {station}."
                self.findings.fault(row.at("road"), message, f"Write a road of {station}, or correct the station.")
            return (None, None) if full is None else (self.places.roads[full].station, full)
        if not station:
            message = f'Nobody can say at which station "{road}" is.'
            self.findings.fault(
                row.at("road"), message, 'Fill in the station, or write the road\'s full name, like "alder.platform".'
            )
            return None, None
        return station, self.places.road_of(station, road, row.at("road"))

    def _time(self, row: Row, column: str) -> float | None:
        text = row.text(column)
        if not text:
            return None
        match = _TIME.fullmatch(text)
        if match is not None:
            return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + int(match[3] or 0)
        loose = re.fullmatch(r"(\d{1,2})[.h,\-]?([0-5]\d)", text)
        remedy = (
            f"Write {int(loose[1]):02}:{loose[2]}." if loose else "Write HH:MM or HH:MM:SS, past midnight going on: 24:05."
        )
        self.findings.fault(row.at(column), f'"{text}" is no time.', remedy)
        return None

    def _rake(self, row: Row, draft: _Draft) -> None:
        words = row.words("rake")
        if words and draft.calls:
            self.findings.fault(
                row.at("rake"),
                "Only the first call of a working has a rake: what it lifts later stands in moves.csv.",
                "Move it to the first call, or take it out.",
            )
            return
        found: list[str] = []
        for word, spot in words:
            if self.stock is not None and one_of(word, spot, self.stock, "vehicle", self.findings) is None:
                continue
            if word in found:
                self.findings.fault(spot, f"{word} stands twice in this rake.", "Take one out.")
            elif draft.engine is not None and word == draft.engine[0]:
                self.findings.fault(
                    spot, f"{word} is the working's engine: the rake begins behind it.", "Take it out of the rake."
                )
            else:
                found.append(word)
                self.places.spots["rake", row.text("working"), word] = spot
        draft.rake = tuple(found) or draft.rake

    def _made(self, name: str, draft: _Draft, sheet: Columns) -> Working:
        for column, said in (("kind", draft.kind), ("engine", draft.engine)):
            if said is None and any(column in row.cells for row in sheet.rows):
                self.findings.fault(
                    draft.first, f"Working {name} has no {column} in any of its rows.", f"Fill in the {column}."
                )
        if draft.engine is None:
            self.places.doubtful.add(("working", name))
        else:
            self.places.spots["call.engine", name, 0] = draft.engine[1]
        calls = tuple(
            Call(c.index, c.station, c.road, c.arrive_s, c.depart_s, self._waits(name, c, waits))
            for c, waits in zip(draft.calls, draft.waits, strict=True)
        )
        return Working(name, draft.kind[0] if draft.kind else "", draft.engine[0] if draft.engine else "", calls, draft.rake)

    def _waits(self, name: str, call: Call, words: list[tuple[str, Spot]]) -> tuple[str, ...]:
        found: list[str] = []
        for word, spot in words:
            if one_of(word, spot, self._drafts, "working", self.findings) is None:
                continue
            if word == name:
                self.findings.fault(
                    spot, f"Working {name} cannot wait for itself.", "Take it out, or name the other working."
                )
            else:
                found.append(word)
        return tuple(dict.fromkeys(found))
