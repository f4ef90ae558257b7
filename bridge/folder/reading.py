"""From five texts to one railway, or to everything that is wrong with them.

Rule: `read` is pure; only `load` touches the disk, and neither raises for anything a person may have written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bridge.core.plan import Move, Railway, Standing, Vehicle, Working
from bridge.core.plant import Plant
from bridge.folder import moves as moves_file
from bridge.folder import stock as stock_file
from bridge.folder import timetable as timetable_file
from bridge.folder import whereabouts as whereabouts_file
from bridge.folder.buried import tell_buried
from bridge.folder.columns import Columns, columns
from bridge.folder.compositions import Compositions
from bridge.folder.detector_tables import DetectorTables, tell_undetected
from bridge.folder.evening import tell_impossible
from bridge.folder.fields import Fields
from bridge.folder.finding import FILES, Finding, Findings, Spot
from bridge.folder.fits import tell_fits
from bridge.folder.in_the_way import tell_in_the_way
from bridge.folder.places import Places
from bridge.folder.plant_tables import PlantTables
from bridge.folder.run_round import tell_run_rounds
from bridge.folder.runs import tell_runs
from bridge.folder.setting_tables import Broker, broker, column_names, heading, limits
from bridge.folder.text import decoded
from bridge.folder.timings import tell_timings
from bridge.folder.token_ends import tell_tokens
from bridge.folder.toml_tree import tree
from bridge.folder.worth_knowing import tell_missing_file, tell_worth_knowing

PLANT = "railway.toml"
Mapped = Mapping[str, Mapping[str, tuple[str, Spot]]]


@dataclass(frozen=True, slots=True)
class FolderRead:
    """What came of a folder. `railway` is None exactly when there is a finding of level "fault"."""

    railway: Railway | None
    findings: tuple[Finding, ...]
    texts: Mapping[str, bytes]
    broker: Broker | None = None


def load(path: str | Path) -> FolderRead:
    """Read a folder from disk. What cannot be opened is a finding, never an exception."""
    folder = Path(path)
    texts: dict[str, bytes] = {}
    unread = Findings()
    wrong = why_no_folder(folder)
    if wrong is not None:
        unread.fault(Spot(PLANT, 1, 1, ""), f"{folder} {wrong}.", "Name the folder in which railway.toml stands.")
        return FolderRead(None, unread.in_order(), texts)
    for name in FILES:
        try:
            texts[name] = (folder / name).read_bytes()
        except FileNotFoundError:
            continue
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            unread.fault(Spot(name, 1, 1, ""), f"This file cannot be opened: {reason}.", "Make it a file that you may read.")
            texts[name] = b""
    return read(texts) if not unread.any_fault() else _joined(read(texts), unread)


def why_no_folder(folder: Path) -> str | None:
    """Why a path is no folder that can be read, for a sentence that begins with it; None where it is one."""
    try:
        return None if folder.is_dir() else "is not a folder" if folder.exists() else "does not exist"
    except OSError as error:
        return f"cannot be opened: {error.strerror}"


def _joined(found: FolderRead, unread: Findings) -> FolderRead:
    closed = {finding.file for finding in unread.in_order()}
    others = tuple(finding for finding in found.findings if finding.file not in closed)
    return FolderRead(None, unread.in_order() + others, found.texts, found.broker)


def read(texts: Mapping[str, bytes]) -> FolderRead:
    """Read the files of a folder, by name; one that is not there is told as far as it is needed."""
    findings = Findings()
    reading = _Reading(texts, findings)
    railway = reading.railway()
    kept = None if findings.any_fault() else railway
    return FolderRead(kept, findings.in_order(), dict(texts), reading.broker)


class _Reading:
    """One reading of one folder."""

    def __init__(self, texts: Mapping[str, bytes], findings: Findings) -> None:
        self.texts = texts
        self.findings = findings
        self.places = Places(findings)
        self.broker: Broker | None = None
        self._mapped: Mapped = {}

    def railway(self) -> Railway | None:
        plant = self._plant()
        if plant is None:
            return None
        stock = self._stock()
        known = None if stock is None else set(stock)
        standing = self._standing(known)
        workings = self._workings(stock)
        moves = self._moves(known, workings)
        railway = Railway(plant, stock or {}, standing, workings or {}, moves)
        needs_stock = {"whereabouts.csv": bool(standing), "timetable.csv": bool(workings), "moves.csv": bool(moves)}
        self._missing("stock.csv", stock is None, [file for file, needed in needs_stock.items() if needed])
        self._missing("whereabouts.csv", not self.places.whereabouts_read, [])
        self._missing("timetable.csv", workings is None, ["moves.csv"] if any(move.working for move in moves) else [])
        self._missing("moves.csv", not self.places.moves_read, [])
        for hold in (tell_runs, tell_timings):
            hold(railway, self.places)
        trains = Compositions(railway)
        for look_along in (tell_impossible, tell_fits, tell_in_the_way, tell_run_rounds, tell_buried, tell_tokens):
            look_along(trains, self.places)
        tell_worth_knowing(railway, self.places, self.broker is not None)
        return railway

    def _missing(self, file: str, missing: bool, needed_by: list[str]) -> None:
        if missing:
            tell_missing_file(file, file in self.texts, needed_by, self.findings)

    def _plant(self) -> Plant | None:
        content = self.texts.get(PLANT)
        start = Spot(PLANT, 1, 1, "")
        if content is None or not content.strip():
            what = "There is no railway.toml in this folder." if content is None else "railway.toml is empty."
            self.findings.fault(start, what, "A folder needs one: its [railway], stations, sections, boards and detectors.")
            return None
        root = tree(PLANT, decoded(PLANT, content, self.findings), self.findings)
        fields = Fields(root, "railway.toml", self.findings)
        head = heading(fields.inner("railway", "[railway]"), start, self.findings)
        tables = PlantTables(self.places)
        tables.stations(fields.inner_tables("station"), fields.spot("railway"))
        tables.sections(fields.inner_tables("section"))
        tables.settle()
        tables.board_tables(fields.inner_tables("board"))
        detectors = DetectorTables(self.places, set(tables.boards)).read(fields.inner_tables("detector"))
        tell_undetected(self.places, detectors)
        chosen = limits(fields.inner("limits", "[limits]"), self.findings)
        self.broker = broker(fields.inner("broker", "[broker]"), self.findings)
        self._mapped = column_names(fields.inner("columns", "[columns]"), self.findings)
        fields.done()
        return Plant(
            id=head.id,
            name=head.name,
            scale=head.scale,
            clock=head.clock,
            stations=self.places.stations,
            roads=self.places.roads,
            throats=self.places.throats,
            sections=self.places.sections,
            boards=tables.boards,
            detectors=detectors,
            limits=chosen,
        )

    def _sheet(self, kind: str, required: tuple[str, ...]) -> Columns | None:
        file = f"{kind}.csv"
        content = self.texts.get(file)
        if content is None:
            return None
        text = decoded(file, content, self.findings)
        return columns(kind, text, required, self._mapped.get(kind, {}), self.findings)

    def _stock(self) -> Mapping[str, Vehicle] | None:
        sheet = self._sheet("stock", stock_file.REQUIRED)
        return None if sheet is None else stock_file.read_stock(sheet, self.places)

    def _standing(self, stock: set[str] | None) -> tuple[Standing, ...]:
        sheet = self._sheet("whereabouts", whereabouts_file.REQUIRED)
        return () if sheet is None else whereabouts_file.read_whereabouts(sheet, self.places, stock)

    def _workings(self, stock: Mapping[str, Vehicle] | None) -> dict[str, Working] | None:
        sheet = self._sheet("timetable", timetable_file.REQUIRED)
        return None if sheet is None else timetable_file.Timetable(self.places, stock).read(sheet)

    def _moves(self, stock: set[str] | None, workings: Mapping[str, Working] | None) -> tuple[Move, ...]:
        sheet = self._sheet("moves", moves_file.REQUIRED)
        return () if sheet is None else moves_file.read_moves(sheet, self.places, stock, workings)
