"""A CSV file as rows of cells that know where they stand.

Rule: one open quotation mark costs its own line and nothing else; an empty row is no row. Cells are read as RFC 4180 has
them; commas, semicolons and tabs are told apart by the header row.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.folder.finding import Findings, Spot

DELIMITERS = ",;\t"


@dataclass(frozen=True, slots=True)
class Sheet:
    """The header row and the rows below it; `delimiter` as judged."""

    file: str
    delimiter: str
    header: tuple[Spot, ...]
    rows: tuple[tuple[Spot, ...], ...]


def sheet(file: str, text: str, findings: Findings) -> Sheet | None:
    """The cells of a file: the `text` of each spot is the cell's content, without its quotes and the blanks around it.

    None where there is no header row.
    """
    delimiter = judged(text)
    rows = [
        row for row in _Cells(file, text, delimiter, findings).rows() if any(cell.text.strip(DELIMITERS) for cell in row)
    ]
    if not rows:
        return None
    return Sheet(file, delimiter, tuple(rows[0]), tuple(tuple(row) for row in rows[1:]))


def judged(text: str) -> str:
    """The delimiter: the one that stands most often in the first row that is not empty, outside quotes."""
    first = next((row for row in text.split("\n") if row.strip(" ,;\t")), "")
    plain = "".join(part for n, part in enumerate(first.split('"')) if n % 2 == 0)
    return max(DELIMITERS, key=plain.count)


class _Cells:
    """Walks through the text once."""

    def __init__(self, file: str, text: str, delimiter: str, findings: Findings) -> None:
        self._file = file
        self._text = text
        self._delimiter = delimiter
        self._findings = findings
        self._at = 0
        self._line = 1
        self._line_start = 0

    def rows(self) -> list[list[Spot]]:
        """All rows, empty ones too."""
        found: list[list[Spot]] = []
        while self._at < len(self._text):
            row = [self._cell()]
            while self._at < len(self._text) and self._text[self._at] == self._delimiter:
                self._at += 1
                row.append(self._cell())
            self._end_row()
            found.append(row)
        return found

    def _end_row(self) -> None:
        if self._at < len(self._text):
            self._at += 1
            self._line += 1
            self._line_start = self._at

    def _cell(self) -> Spot:
        """One cell; stands afterwards at the delimiter or line end behind it."""
        blanks = " " if self._delimiter == "\t" else " \t"
        while self._at < len(self._text) and self._text[self._at] in blanks:
            self._at += 1
        line, column = self._line, self._at - self._line_start + 1
        if self._at < len(self._text) and self._text[self._at] == '"':
            content = self._quoted()
            if content is not None:
                return Spot(self._file, line, column, content.strip())
            self._findings.fault(
                Spot(self._file, line, column, self._rest_of_line()),
                "This quotation mark does not close.",
                'Close it at the end of its cell, or take it out; a quotation mark inside a cell is written twice ("").',
            )
        start = self._at
        while self._at < len(self._text) and self._text[self._at] not in (self._delimiter, "\n"):
            self._at += 1
        return Spot(self._file, line, column, self._text[start : self._at].strip().strip('"'))

    def _rest_of_line(self) -> str:
        return self._text[self._at :].split("\n", 1)[0]

    def _quoted(self) -> str | None:
        """The content of a quoted cell; None, and nothing moved, where it does not end at a delimiter or line end."""
        at, parts = self._at + 1, []
        while True:
            end = self._text.find('"', at)
            if end < 0:
                return None
            parts.append(self._text[at:end])
            if self._text.startswith('""', end):
                parts.append('"')
                at = end + 2
                continue
            break
        at = end + 1
        while at < len(self._text) and self._text[at] in " \t" and self._text[at] != self._delimiter:
            at += 1
        if at < len(self._text) and self._text[at] not in (self._delimiter, "\n"):
            return None
        content = "".join(parts)
        breaks = self._text.count("\n", self._at, end)
        if breaks:
            self._line += breaks
            self._line_start = self._text.rindex("\n", self._at, end) + 1
        self._at = at
        return content
