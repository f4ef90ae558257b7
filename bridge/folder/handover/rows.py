"""A CSV file of the folder taken apart so that it can be written again: its columns, delimiter, line ends and mark as its
owner had them.

Rule: what nobody here knows of a file is kept as it stands; what is written is read again to the same cells.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bridge.folder.fields import Fields
from bridge.folder.finding import Findings
from bridge.folder.setting_tables import COLUMNS, column_names
from bridge.folder.sheet import DELIMITERS, sheet
from bridge.folder.text import decoded
from bridge.folder.toml_tree import tree

PLANT = "railway.toml"
BOM = b"\xef\xbb\xbf"
Cells = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Paper:
    """A file's header row and rows, each as long as the header; `at`: at which index each of our columns stands."""

    header: Cells
    rows: tuple[Cells, ...]
    at: Mapping[str, int]
    delimiter: str = ","
    line_end: str = "\n"
    has_mark: bool = False

    def text(self, row: Sequence[str], column: str) -> str:
        """What stands in one of our columns; "" where the file has none such."""
        return row[self.at[column]] if column in self.at else ""

    def blank(self) -> Cells:
        """A row with nothing in it."""
        return ("",) * len(self.header)

    def filled(self, row: Sequence[str], values: Mapping[str, str]) -> Cells:
        """A row with other values in our columns; a column that the file lacks is left out."""
        cells = list(row)
        for column, value in values.items():
            if column in self.at:
                cells[self.at[column]] = value
        return tuple(cells)

    def with_column(self, column: str) -> Paper:
        """The same with one of our columns behind the others, where it has none such."""
        if column in self.at:
            return self
        at = {**self.at, column: len(self.header)}
        return replace(self, header=(*self.header, column), rows=tuple((*row, "") for row in self.rows), at=at)

    def written(self, rows: Iterable[Sequence[str]]) -> bytes:
        """The file with these rows in place of its own."""
        lines = [self.delimiter.join(_cell(cell) for cell in row) + self.line_end for row in (self.header, *rows)]
        return (BOM if self.has_mark else b"") + "".join(lines).encode()


def paper(kind: str, texts: Mapping[str, bytes], without: Sequence[str]) -> Paper:
    """`<kind>.csv` of a folder's files; `without` one it is a header row of these columns alone, called as mapped."""
    content = texts.get(f"{kind}.csv", b"")
    names = _names(kind, texts)
    read = sheet(f"{kind}.csv", decoded(f"{kind}.csv", content, Findings()), Findings())
    if read is None:
        return Paper(tuple(names[column] for column in without), (), {column: n for n, column in enumerate(without)})
    header = tuple(cell.text for cell in read.header)
    rows = [tuple(cell.text for cell in row)[: len(header)] for row in read.rows]
    padded = tuple(row + ("",) * (len(header) - len(row)) for row in rows)
    line_end = "\r\n" if b"\r\n" in content else "\n"
    return Paper(header, padded, _places(header, names), read.delimiter, line_end, content.startswith(BOM))


def _names(kind: str, texts: Mapping[str, bytes]) -> dict[str, str]:
    """Our columns of a file and what the file calls them."""
    findings = Findings()
    fields = Fields(tree(PLANT, decoded(PLANT, texts[PLANT], findings), findings), PLANT, findings)
    mapped = column_names(fields.inner("columns", "[columns]"), findings).get(kind, {})
    return {ours: mapped[ours][0] if ours in mapped else ours for ours in COLUMNS[kind]}


def _places(header: Cells, names: Mapping[str, str]) -> dict[str, int]:
    """As the reading of the folder finds them: by the very name, else whatever its case."""
    found: dict[str, int] = {}
    for ours, theirs in names.items():
        exact = [n for n, name in enumerate(header) if name == theirs]
        places = exact or [n for n, name in enumerate(header) if name.casefold() == theirs.casefold()]
        if places:
            found[ours] = places[0]
    return found


def _cell(text: str) -> str:
    """A cell as RFC 4180 has it; quoted where any delimiter is in it, so that the header row is judged as it was."""
    if any(sign in text for sign in DELIMITERS + '"\n\r'):
        return '"' + text.replace('"', '""') + '"'
    return text
