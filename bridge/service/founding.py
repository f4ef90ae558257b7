"""The railway folder before a session and beside one: read, shown with its own lines, and made where there is none.

Rule: the path is the command line's and nobody else's. Whoever is told `on_good` goes on into the session; a folder that is
looked at beside a session changes nothing that is in force.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from bridge.core.plan import Railway
from bridge.folder import Finding, FolderRead, load
from bridge.folder.finding import Findings
from bridge.folder.making import NotMadeError, Sketch, in_the_way, made, place
from bridge.folder.text import decoded

PLANT = "railway.toml"
LEVELS = ("fault", "conflict", "advice")
LONGEST_ROW = 200
MOST_SHOWN = 200
"""Findings; a phone asks for them time and again."""

Told = dict[str, Any]


def _nobody(_read: FolderRead) -> None:
    """Beside a session nobody waits for the folder."""


@dataclass
class Founding:
    """One railway folder, `read` as it was last. `in_session`: a session runs on what was read at its start."""

    folder: Path
    read: FolderRead
    in_session: bool = False
    on_good: Callable[[FolderRead], None] = _nobody
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def stands(self) -> Told:
        """The state ("empty", "faults", "opening", "session"), the path, what `check` says, and what has nothing in it."""
        with self._turn:
            return self._told()

    def look(self) -> Told:
        """The same, read anew; goes on where nothing is refused any more."""
        with self._turn:
            self._read_anew()
            return self._told()

    def attempt(self, sketch: Sketch) -> Told:
        """What is wrong with a sketch, else the texts that would be written and what `check` says of them."""
        found = made(sketch)
        return {
            "findings": [wrong.as_dict() for wrong in found.wrongs],
            "texts": dict(found.texts),
            "check": _shown(found.findings, {name: text.encode() for name, text in found.texts.items()}),
        }

    def make(self, sketch: Sketch) -> Told:
        """Write them into the folder; goes on into the session."""
        with self._turn:
            if self._state() != "empty":
                text = f"In {self.folder} there is a railway already: nothing was written."
                return {"accepted": False, "text": text, "findings": []}
            found = made(sketch)
            if found.wrongs:
                wrongs = [wrong.as_dict() for wrong in found.wrongs]
                return {"accepted": False, "text": "Something is not right yet: nothing was written.", "findings": wrongs}
            try:
                files = place(self.folder, found.texts)
            except NotMadeError as error:
                return {"accepted": False, "text": str(error), "findings": []}
            self._read_anew()
            names = ", ".join(path.name for path in files)
            return {"accepted": True, "text": f"Written into {self.folder}: {names}.", "findings": []}

    def _read_anew(self) -> None:
        was_good = self.read.railway is not None
        self.read = load(self.folder)
        if self.read.railway is not None and not was_good:
            self.on_good(self.read)

    def _state(self) -> str:
        if self.in_session:
            return "session"
        if self.read.railway is not None:
            return "opening"
        has_plant = PLANT in self.read.texts or (self.folder.exists() and not self.folder.is_dir())
        return "faults" if has_plant else "empty"

    def _told(self) -> Told:
        state, railway = self._state(), self.read.railway
        found = () if state == "empty" else self.read.findings
        return {
            "state": state,
            "folder": str(self.folder.absolute()),
            "in_the_way": list(in_the_way(self.folder)) if state == "empty" else [],
            "findings": _shown(found, self.read.texts),
            "left_out": max(0, len(found) - MOST_SHOWN),
            "lacks": [] if railway is None else _lacks(railway),
        }


def _lacks(railway: Railway) -> list[str]:
    """The files in which nothing stands yet."""
    found = {"stock.csv": len(railway.stock), "timetable.csv": len(railway.workings), "moves.csv": len(railway.moves)}
    return [name for name, rows in found.items() if not rows]


def _shown(findings: tuple[Finding, ...], texts: Mapping[str, bytes]) -> list[Told]:
    """Findings, the worst first and only so many, each with the line of its file and those beside it."""
    lines = {name: decoded(name, content, Findings()).removesuffix("\n").split("\n") for name, content in texts.items()}
    ordered = sorted(findings, key=lambda finding: LEVELS.index(finding.level))[:MOST_SHOWN]
    return [{**asdict(finding), "rows": _rows(lines.get(finding.file, []), finding.line)} for finding in ordered]


def _rows(lines: list[str], line: int) -> list[Told]:
    near = range(max(1, line - 1), min(len(lines), line + 1) + 1)
    return [{"line": n, "text": lines[n - 1][:LONGEST_ROW]} for n in near]
