"""railway.toml as one tree of tables with positions, whatever is wrong with it.

Rule: a header that is spelt or bracketed wrongly is told and taken as the one it was meant to be, so that the tables below
it find their place.
"""

from __future__ import annotations

import re
import tomllib

from bridge.folder.finding import Findings, Spot, nearest
from bridge.folder.toml_statements import Header, Pair, statements
from bridge.folder.toml_values import Entry, Table, Tables, put

REPEATED = {"station", "station.road", "station.throat", "section", "board", "detector"}
SINGLE = {
    "railway",
    "section.minutes",
    "limits",
    "broker",
    "columns",
    "columns.stock",
    "columns.whereabouts",
    "columns.timetable",
    "columns.moves",
}


def tree(file: str, text: str, findings: Findings) -> Table:
    """The tables of the file. Every syntax error, unknown header and key said twice is told."""
    before = len(findings.in_order())
    builder = _Builder(file, findings)
    for statement in statements(file, text, findings):
        builder.take(statement)
    if len(findings.in_order()) == before:
        _ask_the_library(file, text, findings)
    return builder.root


def _ask_the_library(file: str, text: str, findings: Findings) -> None:
    """What the syntax tree lets pass and TOML forbids: the library's own words, where nothing else was found."""
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        place = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line, column = (int(place[1]), int(place[2])) if place else (1, 1)
        rows = text.split("\n")
        spot = Spot(file, line, column, rows[line - 1] if line <= len(rows) else "")
        reason = str(error).partition(" (at ")[0]
        findings.fault(spot, f"This is no valid TOML: {reason}.", "Compare the line with the ones around it.")


class _Builder:
    """Puts statements into the tree."""

    def __init__(self, file: str, findings: Findings) -> None:
        self.root = Table(Spot(file, 1, 1, ""))
        self._findings = findings
        self._current: Table | None = None
        self._again = False

    def take(self, statement: Header | Pair) -> None:
        if isinstance(statement, Header):
            self._again = False
            self._current = self._opened(statement)
        elif self._current is None:
            self._outside(statement)
        else:
            put(self._current, statement.names, statement.value, self._findings, quiet=self._again)

    def _outside(self, pair: Pair) -> None:
        name = pair.names[0] if pair.names else None
        if name is not None and name.text in REPEATED | SINGLE:
            put(self.root, pair.names, pair.value, self._findings)
        elif name is not None:
            self._findings.fault(
                name.spot,
                f'"{name.text}" stands above the first table, so it belongs to nothing.',
                "Put it below the header of its table, for example below `[railway]`.",
            )

    def _opened(self, header: Header) -> Table:
        if not header.names:
            return Table(self.root.spot)
        spot, path = header.spot, self._known(header)
        if path is None:
            return Table(spot)
        if header.double != (path in REPEATED):
            often = "two pairs of brackets: there can be several" if path in REPEATED else "one pair: there is one only"
            self._findings.fault(spot, f"The header of {path} has {often}.", f"Write `{_written(path)}`.")
        names = path.split(".")
        parent = self._parent(names, spot)
        if path in REPEATED:
            return self._appended(parent, names[-1], spot)
        return self._single(parent, names[-1], spot)

    def _known(self, header: Header) -> str | None:
        """The header's path, or the one it was most likely meant to be; None where nobody can say."""
        path = ".".join(name.text for name in header.names)
        if path in REPEATED or path in SINGLE:
            return path
        guess = nearest(path, sorted(REPEATED | SINGLE))
        if guess is None:
            remedy = "Known are [railway], [[station]], [[station.road]], [[station.throat]], [[section]], [[board]], "
            remedy += "[[detector]], [limits], [broker] and [columns.stock] (.whereabouts, .timetable, .moves)."
        else:
            remedy = f"Did you mean `{_written(guess)}`?"
        self._findings.fault(header.spot, f"There is no table `{path}`.", remedy)
        return guess

    def _parent(self, names: list[str], spot: Spot) -> Table:
        parent = self.root
        for depth, name in enumerate(names[:-1]):
            path = ".".join(names[: depth + 1])
            entry = parent.entries.get(name)
            if entry is None and path in REPEATED:
                self._findings.fault(
                    spot,
                    f"No `[[{path}]]` stands above this table, so it belongs to none.",
                    f"Put it below its `[[{path}]]`.",
                )
                return Table(spot)
            if entry is None:
                entry = Entry(spot, Table(spot))
                parent.entries[name] = entry
            below = entry.value.tables[-1] if isinstance(entry.value, Tables) else entry.value
            if not isinstance(below, Table):
                self._findings.fault(
                    spot, f'"{path}" is no table: it has a value in line {entry.spot.line}.', "Keep one of the two."
                )
                return Table(spot)
            parent = below
        return parent

    def _appended(self, parent: Table, name: str, spot: Spot) -> Table:
        made = Table(spot, from_header=True)
        entry = parent.entries.get(name)
        if entry is None:
            entry = Entry(spot, Tables(spot))
            parent.entries[name] = entry
        if isinstance(entry.value, Tables):
            entry.value.tables.append(made)
        else:
            self._findings.fault(spot, f'"{name}" has a value already, in line {entry.spot.line}.', "Keep one of the two.")
        return made

    def _single(self, parent: Table, name: str, spot: Spot) -> Table:
        entry = parent.entries.get(name)
        if entry is None:
            made = Table(spot, from_header=True)
            parent.entries[name] = Entry(spot, made)
            return made
        if not isinstance(entry.value, Table):
            self._findings.fault(spot, f'"{name}" has a value already, in line {entry.spot.line}.', "Keep one of the two.")
            return Table(spot)
        if entry.value.from_header:
            self._again = True
            self._findings.fault(
                spot,
                f"This table stands twice: it begins already in line {entry.value.spot.line}.",
                "Put both into one, and keep each key once.",
            )
        entry.value.from_header = True
        return entry.value


def _written(path: str) -> str:
    return f"[[{path}]]" if path in REPEATED else f"[{path}]"
