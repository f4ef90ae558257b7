"""The `[[detector]]` tables: each kind with the keys that belong to it.

Rule: a detector means something only where the plant has what it watches; a key of another kind is told, never ignored.
"""

from __future__ import annotations

from typing import Any

from bridge.core.plant import Boundary, Detector, DetectorKind, Section, SectionRule
from bridge.folder.fields import Fields
from bridge.folder.finding import Spot
from bridge.folder.places import Places, one_of, without_detectors
from bridge.folder.plant_tables import ENDS
from bridge.folder.toml_values import Table

CLEAR_AFTER_MS = {DetectorKind.TRACK: 1000.0, DetectorKind.TOKEN_REST: 500.0}
KEYS = ("covers", "at", "side", "sees", "on", "off", "guards", "token", "station", "feeds", "clear_after", "invert")
TOKEN_RULES = (SectionRule.TOKEN, SectionRule.STAFF_AND_TICKET)


class DetectorTables:
    """Reads detectors; `places` and `boards` must be complete."""

    def __init__(self, places: Places, boards: set[str]) -> None:
        self.places = places
        self.findings = places.findings
        self.boards = boards
        self.boundaries: dict[str, Boundary] = without_detectors(places).boundaries
        self.detectors: dict[str, Detector] = {}
        self._inputs: dict[tuple[str, int], tuple[str, Spot]] = {}

    def read(self, tables: list[Table]) -> dict[str, Detector]:
        """Every `[[detector]]`."""
        for table in tables:
            fields = Fields(table, "this [[detector]]", self.findings)
            found = fields.id("id", '"alder-dock"')
            fields.what = f"detector {found}" if found else "this [[detector]]"
            word = fields.choice("kind", [str(kind) for kind in DetectorKind])
            board = fields.text("board", '"alder"')
            number = fields.whole("input", "3")
            if board is not None:
                one_of(board, fields.spot("board"), self.boards, "board", self.findings)
            if board is not None and number is not None:
                self._input(board, number, found or "another", fields.spot("input"))
            if word is None:
                self._ask_all(fields)
            detector = Detector(found or "", DetectorKind(word or "track"), board or "", number or 0)
            detector = self._meaning(detector, fields) if word is not None else detector
            fields.done(KEYS)
            if found is not None and self.places.first(fields.spot("id"), "detector", found):
                self.detectors[found] = detector
        return self.detectors

    def _ask_all(self, fields: Fields) -> None:
        """Without a kind nobody knows which keys belong here: none is told as unknown that some kind has."""
        for key in KEYS:
            if fields.has(key):
                fields.known(key)

    def _input(self, board: str, number: int, detector: str, spot: Spot) -> None:
        earlier = self._inputs.setdefault((board, number), (detector, spot))
        if earlier[1] is not spot:
            self.findings.fault(
                spot,
                f"Input {number} of board {board} has detector {earlier[0]} already, in line {earlier[1].line}.",
                "Give one of them another input.",
            )

    def _meaning(self, bare: Detector, fields: Fields) -> Detector:
        kind = bare.kind
        reads = {
            DetectorKind.TRACK: self._track,
            DetectorKind.TREADLE: self._treadle,
            DetectorKind.READER: self._reader,
            DetectorKind.POINTS: self._points,
            DetectorKind.PROOF: self._proof,
            DetectorKind.TOKEN_REST: self._token_rest,
            DetectorKind.POWER: self._power,
        }
        keys = reads[kind](fields)
        clear_after, invert = CLEAR_AFTER_MS.get(kind, 0.0), False
        if kind is not DetectorKind.READER:
            said = fields.number("clear_after", "1500", required=False, or_least=True, most=600_000)
            clear_after = clear_after if said is None else said
        if kind not in (DetectorKind.READER, DetectorKind.TOKEN_REST):
            invert = fields.flag("invert", default=False)
        return Detector(bare.id, kind, bare.board, bare.input, clear_after_ms=clear_after, invert=invert, **keys)

    def _place(self, fields: Fields, key: str) -> str | None:
        word = fields.text(key, '"alder.dock"')
        return None if word is None else self.places.place(word, fields.spot(key), "road", "section", "throat")

    def _boundary(self, fields: Fields) -> str | None:
        word = fields.text("at", '"alder.dock@down"')
        return None if word is None else self.places.boundary(word, fields.spot("at"), self.boundaries)

    def _track(self, fields: Fields) -> dict[str, Any]:
        return {"covers": self._place(fields, "covers")}

    def _treadle(self, fields: Fields) -> dict[str, Any]:
        sees = fields.choice("sees", ("engine", "tail", "any"))
        return {"at": self._boundary(fields), "sees": sees, "side": fields.choice("side", ENDS, required=False)}

    def _reader(self, fields: Fields) -> dict[str, Any]:
        return {"at": self._boundary(fields), "side": fields.choice("side", ENDS, required=False)}

    def _points(self, fields: Fields) -> dict[str, Any]:
        word = fields.text("at", '"alder.down"')
        at = None if word is None else self.places.place(word, fields.spot("at"), "throat")
        on = self._reachable(fields, "on", at)
        off = self._reachable(fields, "off", at)
        if not fields.has("on") and not fields.has("off"):
            self.findings.fault(
                fields.spot(),
                f"{fields.what} names no road.",
                'Say which roads can be reached: `on = ["alder.dock"]`, `off = [...]`.',
            )
        for road in set(on) & set(off):
            fields.wrong(
                "off",
                f"{fields.what} lets road {road} be reached both ways, so it says nothing of it.",
                "Take it out of one.",
            )
        return {"at": at, "on": on, "off": off}

    def _reachable(self, fields: Fields, key: str, throat: str | None) -> tuple[str, ...]:
        found: list[str] = []
        for word, spot in fields.words(key, '["alder.dock"]', required=False):
            if throat is None:
                road = self.places.place(word, spot, "road") if "." in word else None
            else:
                road = self.places.road_of(throat.partition(".")[0], word, spot)
            if road is None:
                continue
            end = "" if throat is None else throat.partition(".")[2]
            if end and end not in self.places.roads[road].open:
                self.findings.fault(
                    spot,
                    f"Road {road} is not open at its {end} end: no points of {throat} lead to it.",
                    "Take it out, or correct `at`.",
                )
            found.append(road)
        return tuple(found)

    def _proof(self, fields: Fields) -> dict[str, Any]:
        return {"guards": self._place(fields, "guards")}

    def _power(self, fields: Fields) -> dict[str, Any]:
        words = fields.words("feeds", '["alder.dock"]')
        if fields.is_empty_list("feeds"):
            fields.wrong("feeds", f"{fields.what} feeds nothing.", "Name the roads, sections and throats it feeds.")
        return {"feeds": self.places.places(words, "road", "section", "throat")}

    def _token_rest(self, fields: Fields) -> dict[str, Any]:
        word = fields.text("token", '"alder-birch"')
        token = None if word is None else self.places.place(word, fields.spot("token"), "section")
        station = fields.text("station", '"alder"')
        known = (
            None
            if station is None
            else one_of(station, fields.spot("station"), self.places.stations, "station", self.findings)
        )
        section: Section | None = None if token is None else self.places.sections[token]
        if section is not None and section.rule not in TOKEN_RULES:
            fields.wrong(
                "token",
                f"Section {token} is worked by {section.rule}: it has no token.",
                'Its `rule` must be "token" or "staff-and-ticket".',
            )
        if section is not None and known is not None and known not in section.stations:
            where = " or ".join(section.stations)
            fields.wrong("station", f"Section {token} does not end at {known}.", f"Write {where}.")
        return {"token": token, "station": known}


def tell_undetected(places: Places, detectors: dict[str, Detector]) -> None:
    """Sections worked by track circuit that no track detector covers: a fault; rests of tokens without tags: advice."""
    covered = {detector.covers for detector in detectors.values() if detector.kind is DetectorKind.TRACK}
    unread = None in covered  # what that detector was meant to cover nobody knows, and it has been told
    rests = {detector.token for detector in detectors.values() if detector.kind is DetectorKind.TOKEN_REST}
    for section in places.sections.values():
        spot = places.spots["section", section.id]
        if section.rule is SectionRule.TRACK_CIRCUIT and section.id not in covered and not unread:
            places.findings.fault(
                spot,
                f"Section {section.id} is worked by track-circuit, and no track detector covers it.",
                f'Add a [[detector]] with `kind = "track"` and `covers = "{section.id}"`, or choose another rule.',
            )
        if section.id in rests and section.rule in TOKEN_RULES and not section.token_tags:
            places.findings.advice(
                spot,
                f"The token of section {section.id} has a rest and no tag: the rest will never know it.",
                'Add `token_tags = ["..."]` to the section.',
            )
