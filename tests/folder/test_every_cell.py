"""Delete, mistype and duplicate every cell, row and column of the CSV files: faults are told at their row, nothing raises.

Which columns a row cannot do without stands here a second time, by the contract.
"""

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from bridge.folder import FolderRead, read

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_bytes() for path in sorted(EXAMPLE.iterdir())}
FILES = ("stock", "whereabouts", "timetable", "moves")
REQUIRED = {
    "stock": {"vehicle", "kind", "length"},
    "whereabouts": {"vehicle", "road"},
    "timetable": {"working", "road"},
    "moves": {"Wagon", "from", "to"},
}
REQUIRED_COLUMNS = {**REQUIRED, "timetable": {"working", "kind", "engine", "road"}}
PLANT = TEXTS["railway.toml"].decode().split("\n")
MAPPED = {name: next(n for n, row in enumerate(PLANT, 1) if f'"{name}"' in row) for name in ("Number on the side", "Wagon")}
DEFINING = {("stock", "vehicle"), ("timetable", "working")}
ANY_TEXT = {"class", "Number on the side", "notes", "load", "shelf"}


def rows_of(name):
    return list(csv.reader(io.StringIO(TEXTS[f"{name}.csv"].decode())))


def lines_of(name):
    """The line at which each row begins, from 1."""
    reader, found, line = csv.reader(io.StringIO(TEXTS[f"{name}.csv"].decode())), [], 1
    for _ in reader:
        found.append(line)
        line = reader.line_num + 1
    return found


@dataclass(frozen=True)
class Cell:
    """One cell with something in it; rows from 0, the header row being the first."""

    file: str
    row: int
    column: int
    header: str
    text: str

    @property
    def line(self):
        return lines_of(self.file)[self.row]

    def __str__(self):
        return f"{self.file}-{self.line}-{self.header}"


CELLS = [
    Cell(file, n, m, rows_of(file)[0][m], text)
    for file in FILES
    for n, row in enumerate(rows_of(file))
    for m, text in enumerate(row)
    if text and n
]
COLUMNS = [(file, m, header) for file in FILES for m, header in enumerate(rows_of(file)[0])]
ROWS = [(file, n) for file in FILES for n in range(1, len(rows_of(file)))]
each_cell = pytest.mark.parametrize("cell", CELLS, ids=str)
each_column = pytest.mark.parametrize(("file", "column", "header"), COLUMNS)
each_row = pytest.mark.parametrize(("file", "row"), ROWS)


def written(rows):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def read_with(file, change) -> FolderRead:
    rows = rows_of(file)
    change(rows)
    return read({**TEXTS, f"{file}.csv": written(rows)})


def told(found: FolderRead, file, level="fault"):
    assert (found.railway is None) == any(f.level == "fault" for f in found.findings)
    return {f.line for f in found.findings if f.level == level and f.file == f"{file}.csv"}


@each_cell
def test_deleted_cell(cell):
    found = read_with(cell.file, lambda rows: rows[cell.row].__setitem__(cell.column, ""))
    if cell.header in REQUIRED[cell.file]:
        assert cell.line in told(found, cell.file)
        assert any(f.line == cell.line and "missing" in f.message for f in found.findings)
    elif cell.header == "station":  # the road's short name then says nothing; its full name says enough
        short = "." not in rows_of(cell.file)[cell.row][4]
        assert (cell.line in told(found, cell.file)) == short
    else:
        assert [f for f in found.findings if f.level == "fault"] == []


@each_cell
@pytest.mark.parametrize("text", ["No such thing!", "\u00e9\u00e8", "-1", "99:99"])
def test_mistyped_cell(cell, text):
    found = read_with(cell.file, lambda rows: rows[cell.row].__setitem__(cell.column, text))
    if cell.header in ANY_TEXT:
        assert [f for f in found.findings if f.level == "fault"] == []
    elif (cell.file, cell.header) in DEFINING and re.fullmatch("[a-z0-9-]+", text):
        assert any(f.level in ("fault", "conflict") for f in found.findings), "what refers to the old id refers to nothing"
    else:
        assert cell.line in told(found, cell.file)


@each_cell
def test_duplicated_cell(cell):
    found = read_with(cell.file, lambda rows: rows[cell.row].insert(cell.column, cell.text))
    row = rows_of(cell.file)[cell.row]
    last_line = cell.line + sum(text.count("\n") for text in [*row, cell.text])
    if row[-1]:  # then the row is longer than the header row, and the cell too many is told where it stands
        assert told(found, cell.file) & set(range(cell.line, last_line + 1))


@each_column
def test_deleted_column(file, column, header):
    found = read_with(file, lambda rows: [row.pop(column) for row in rows])
    if header in MAPPED:
        assert MAPPED[header] in {f.line for f in found.findings if f.file == "railway.toml" and f.level == "fault"}
    elif header in REQUIRED_COLUMNS[file]:
        assert told(found, file) == {1}
    elif header == "station":
        assert told(found, file)
    else:
        assert [f for f in found.findings if f.level == "fault"] == []


@each_column
def test_mistyped_column(file, column, header):
    found = read_with(file, lambda rows: rows[0].__setitem__(column, header + "x"))
    if header in MAPPED:
        said = next(f for f in found.findings if f.file == "railway.toml" and f.line == MAPPED[header])
        assert f'"{header}x"' in said.remedy
    elif header in REQUIRED_COLUMNS[file]:
        assert 1 in told(found, file)
        assert any(f'"{header}x"' in f.remedy for f in found.findings)
    elif header == "shelf":
        assert told(found, file) == set()
    else:
        assert 1 in told(found, file, "advice")


@each_column
def test_duplicated_column(file, column, header):
    found = read_with(file, lambda rows: [row.insert(column, row[column]) for row in rows])
    if header == "shelf":
        assert found.railway is not None
    else:
        assert 1 in told(found, file)


@each_row
def test_deleted_row(file, row):
    found = read_with(file, lambda rows: rows.pop(row))
    others = [other for other in FILES if other != file]
    if file == "stock":
        assert any(told(found, other) for other in others)
    else:
        assert found.railway is not None


@each_row
def test_duplicated_row(file, row):
    found = read_with(file, lambda rows: rows.insert(row, rows[row]))
    second = lines_of(file)[row] + rows_of(file)[row].count("a note\non two lines") + 1
    assert second in told(found, file, "fault" if file == "stock" else "conflict")
    if file in ("stock", "whereabouts", "moves"):
        assert any(f.line == second and f"line {lines_of(file)[row]}" in f.message for f in found.findings)


@pytest.mark.parametrize("file", FILES)
def test_deleted_header_row(file):
    assert told(read_with(file, lambda rows: rows.pop(0)), file) == {1}


@pytest.mark.parametrize("file", FILES)
def test_duplicated_header_row(file):
    assert 2 in told(read_with(file, lambda rows: rows.insert(0, rows[0])), file)
