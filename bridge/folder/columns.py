"""The rows of a CSV file by our own column names, whatever the file calls them.

Rule: a column stands where its header says; what is missing is told once, at the header row, not once a row.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bridge.folder.finding import Findings, Spot, listed, nearest
from bridge.folder.setting_tables import COLUMNS
from bridge.folder.sheet import Sheet, sheet

LONGEST = 10_000_000
_YES = {"yes": True, "y": True, "true": True, "1": True, "no": False, "n": False, "false": False, "0": False}


@dataclass(frozen=True, slots=True)
class Row:
    """One row; `cells` by our names, only the columns the file has."""

    spot: Spot
    cells: Mapping[str, Spot]

    def text(self, column: str) -> str:
        """What stands in a column; "" where nothing does."""
        cell = self.cells.get(column)
        return "" if cell is None else cell.text

    def at(self, column: str) -> Spot:
        """Where a column's cell stands; the row's begin where it has none."""
        return self.cells.get(column, self.spot)

    def words(self, column: str) -> list[tuple[str, Spot]]:
        """The words of a cell, separated by spaces, each with its place."""
        cell = self.cells.get(column)
        if cell is None:
            return []
        one_line = "\n" not in cell.text
        return [
            (m[0], Spot(cell.file, cell.line, cell.column + (m.start() if one_line else 0), m[0]))
            for m in re.finditer(r"\S+", cell.text)
        ]

    def required(self, column: str, findings: Findings) -> str:
        """What stands in a column; told where nothing does, unless the file lacks the column (told at its header)."""
        found = self.text(column)
        if not found and column in self.cells:
            findings.fault(
                self.cells[column], f"The {column} is missing in this row.", f"Write the {column}, or take the row out."
            )
        return found

    def number(self, column: str, findings: Findings, decimal_comma: bool) -> float | None:
        """A number above 0; None where there is none or it has been told."""
        text = self.text(column).replace("\N{NO-BREAK SPACE}", "").replace(" ", "")
        if not text:
            return None
        plain = text.replace(",", ".") if decimal_comma and re.fullmatch(r"\d+,\d+", text) else text
        if not re.fullmatch(r"[+-]?\d{1,20}(\.\d{0,20})?", plain):
            unit = re.fullmatch(r"(\d+(?:\.\d+)?)mm", plain)
            remedy = f"Write {unit[1]}." if unit else "Write digits only, for example 104."
            findings.fault(self.at(column), f'"{self.text(column)}" is no number.', remedy)
            return None
        value = float(plain)
        if not 0 < value <= LONGEST:
            findings.fault(self.at(column), f"The {column} must be above 0 and at most {LONGEST}.", "Write for example 104.")
            return None
        return value

    def whole(self, column: str, findings: Findings) -> int | None:
        """A whole number from 1; None where there is none or it has been told."""
        text = self.text(column)
        if not text:
            return None
        match = re.fullmatch(r"0*([1-9]\d{0,8})(?:[.,]0+)?", text)
        if match is None:
            findings.fault(
                self.at(column),
                f'"{text}" is no whole number from 1.',
                "Write 1 for the first, 2 for the second, and so on.",
            )
            return None
        return int(match[1])

    def flag(self, column: str, default: bool, findings: Findings) -> bool:
        """Yes or no; empty is the default."""
        text = self.text(column)
        if not text:
            return default
        if text.casefold() not in _YES:
            findings.fault(
                self.at(column),
                f'"{text}" is neither yes nor no.',
                f"Write yes or no (empty: {'yes' if default else 'no'}).",
            )
            return default
        return _YES[text.casefold()]


@dataclass(frozen=True, slots=True)
class Columns:
    """A file's rows by our names."""

    header: Spot
    rows: tuple[Row, ...]
    decimal_comma: bool


def columns(
    kind: str, text: str, required: tuple[str, ...], mapping: Mapping[str, tuple[str, Spot]], findings: Findings
) -> Columns | None:
    """The rows of `<kind>.csv`. None where the file is empty; `mapping` is ours = theirs, with its place in railway.toml."""
    file = f"{kind}.csv"
    read = sheet(file, text, findings)
    if read is None:
        return None
    places = _places(kind, read, mapping, findings)
    head = _line_of(read.header)
    for column in required:
        if column not in places and column not in mapping:
            findings.fault(head, f'There is no column "{column}".', _missing(column, kind, read, places))
    for name, cell in enumerate(read.header):
        _odd_header(kind, cell, name in places.values(), places, findings)
    rows = tuple(_row(cells, read, places, findings) for cells in read.rows)
    return Columns(head, rows, read.delimiter != ",")


def _places(kind: str, read: Sheet, mapping: Mapping[str, tuple[str, Spot]], findings: Findings) -> dict[str, int]:
    """At which index each of our columns stands."""
    found: dict[str, int] = {}
    for ours in COLUMNS[kind]:
        theirs, told_at = mapping.get(ours, (ours, None))
        exact = [n for n, cell in enumerate(read.header) if cell.text == theirs]
        places = exact or [n for n, cell in enumerate(read.header) if cell.text.casefold() == theirs.casefold()]
        for again in places[1:]:
            findings.fault(
                read.header[again],
                f'The column "{theirs}" stands twice in the header row.',
                "Take one out, or give it another name.",
            )
        if places:
            found[ours] = places[0]
        elif told_at is not None:
            names = [cell.text for cell in read.header if cell.text]
            guess = nearest(theirs, names)
            remedy = f'Did you mean "{guess}"?' if guess else f"Its columns are {listed(names, 20)}."
            findings.fault(told_at, f'{read.file} has no column "{theirs}".', remedy)
    return found


def _missing(column: str, kind: str, read: Sheet, places: Mapping[str, int]) -> str:
    others = [cell.text for n, cell in enumerate(read.header) if n not in places.values() and cell.text]
    guess = nearest(column, others)
    if guess is not None:
        mapped = f'[columns.{kind}] {column} = "{guess}"'
        return f'Is it the column "{guess}"? Then call that "{column}", or map it in railway.toml: {mapped}.'
    return f'Add "{column}" to the header row, or say in railway.toml which column it is: [columns.{kind}] {column} = "...".'


def _odd_header(kind: str, cell: Spot, used: bool, places: Mapping[str, int], findings: Findings) -> None:
    """A column nobody knows is kept; where it looks like a slip of the pen for one that is not there, it is worth saying."""
    guess = None if used or not cell.text else nearest(cell.text, [name for name in COLUMNS[kind] if name not in places])
    if guess is not None:
        findings.advice(cell, f'Nobody knows the column "{cell.text}": it is kept and not read.', f'Did you mean "{guess}"?')


def _row(cells: tuple[Spot, ...], read: Sheet, places: Mapping[str, int], findings: Findings) -> Row:
    extra = next((cell for cell in cells[len(read.header) :] if cell.text), None)
    if extra is not None:
        findings.fault(
            extra,
            f"This row has {len(cells)} cells, the header row {len(read.header)}.",
            "Take the cell out, or put a cell with the delimiter in it between double quotes.",
        )
    end = cells[-1]
    beyond = Spot(end.file, end.line, end.column + len(end.text), "")
    at = {ours: cells[n] if n < len(cells) else beyond for ours, n in places.items()}
    return Row(_line_of(cells), at)


def _line_of(cells: tuple[Spot, ...]) -> Spot:
    return Spot(cells[0].file, cells[0].line, 1, ",".join(cell.text for cell in cells))
