"""A TOML file as a stream of statements (headers and key-value pairs), going on behind every error.

Rule: an error costs its own statement and nothing else. A file without syntax errors is read as one piece; one with errors
is cut into statements, each read by itself, so that an open quote or bracket swallows nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from tree_sitter import Node

from bridge.folder.finding import Findings, Spot
from bridge.folder.toml_repair import Repair, repaired
from bridge.folder.toml_values import DEEPEST, Broken, Lines, Name, Value, syntax_tree

_HEADER = re.compile(r"\s*\[\[?\s*[A-Za-z][\w.-]*\s*\]\]?\s*(#.*)?$")
_PAIR = re.compile(r"\s*[A-Za-z_][\w.-]*\s*=")
LONGEST_TABLE = 30
_HEADERS = {"table": False, "table_array_element": True}


@dataclass(frozen=True, slots=True)
class Header:
    """`[names]`, or `[[names]]` where `double`. No names: a header that nobody can read."""

    names: list[Name]
    double: bool
    spot: Spot


@dataclass(frozen=True, slots=True)
class Pair:
    """`names = value`."""

    names: list[Name]
    value: Value


def statements(file: str, text: str, findings: Findings) -> Iterator[Header | Pair]:
    """Every statement of the file in order."""
    tree = syntax_tree(text)
    if not tree.has_error:
        yield from _walk(tree, Lines(file, text, 1, findings))
        return
    rows = text.split("\n")
    for first, last in cut(rows):
        piece = "\n".join(rows[first : last + 1])
        tree = syntax_tree(piece)
        if tree.has_error:
            repair = repaired(file, piece, first + 1, findings)
            if repair.text is None:
                yield _unread(piece, repair)
                continue
            piece, tree = repair.text, syntax_tree(repair.text)
        yield from _walk(tree, Lines(file, piece, first + 1, findings))


def _unread(piece: str, repair: Repair) -> Header | Pair:
    """A statement nobody can read: its key has a broken value; a header begins a table that belongs to nothing."""
    if piece.lstrip().startswith("["):
        return Header([], double=False, spot=repair.spot)
    names = [] if repair.key is None else [Name(repair.key, repair.spot)]
    return Pair(names, Broken(repair.spot))


def _walk(tree: Node, lines: Lines) -> Iterator[Header | Pair]:
    for node in tree.named_children:
        if node.type == "pair":
            yield _pair(node, lines)
        elif node.type in _HEADERS:
            parts = node.named_children
            start = lines.spot(node)
            yield Header(lines.names(parts[0]), _HEADERS[node.type], replace(start, text=start.text.partition("\n")[0]))
            for part in parts[1:]:
                if part.type == "pair":
                    yield _pair(part, lines)


def _pair(node: Node, lines: Lines) -> Pair:
    parts = [part for part in node.named_children if part.type != "comment"]
    names = lines.names(parts[0])
    if len(names) > DEEPEST:
        spot = lines.spot(parts[0])
        lines.findings.fault(spot, "This key goes too deep.", "No key has more than three parts: take it out.")
        return Pair([], Broken(spot))
    return Pair(names, lines.value(parts[-1]))


def cut(rows: list[str]) -> Iterator[tuple[int, int]]:
    """First and last row index of each statement. One that stays open ends where the next plainly begins."""
    at = 0
    while at < len(rows):
        if not rows[at].strip() or rows[at].lstrip().startswith("#"):
            at += 1
            continue
        last = at if rows[at].lstrip().startswith("[") else _last_row(rows, at)
        yield at, last
        at = last + 1


def _last_row(rows: list[str], first: int) -> int:
    open_ = _Open()
    for row in range(first, len(rows)):
        begins = row > first and not open_.text and (_HEADER.match(rows[row]) or _PAIR.match(rows[row]))
        if begins and not (open_.braces > 0 and _closes(rows, row)):
            return row - 1
        open_.take(rows[row])
        if not open_.text and open_.depth <= 0:
            return row
    return first


def _closes(rows: list[str], at: int) -> bool:
    """Whether braces that are open close at the begin of one of the next rows, before the next table."""
    for row in rows[at : at + LONGEST_TABLE]:
        if row.lstrip().startswith(("}", "[")):
            return row.lstrip().startswith("}")
    return False


class _Open:
    """What is open at the end of a row: brackets, braces among them, and a text of several rows by its delimiter."""

    def __init__(self) -> None:
        self.depth = 0
        self.braces = 0
        self.text = ""

    def take(self, row: str) -> None:
        at = 0
        while at < len(row):
            if self.text:
                at = self._to_the_end_of_text(row, at)
            elif row.startswith(('"""', "'''"), at):
                self.text = row[at : at + 3]
                at += 3
            elif row[at] in "\"'":
                at = _behind_short_text(row, at)
            elif row[at] == "#":
                return
            else:
                self.depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(row[at], 0)
                self.braces += {"{": 1, "}": -1}.get(row[at], 0)
                at += 1

    def _to_the_end_of_text(self, row: str, at: int) -> int:
        if self.text == '"""' and row[at] == "\\":
            return at + 2
        if row.startswith(self.text, at):
            self.text = ""
            return at + 3
        return at + 1


def _behind_short_text(row: str, at: int) -> int:
    quote, at = row[at], at + 1
    while at < len(row) and row[at] != quote:
        at += 2 if quote == '"' and row[at] == "\\" else 1
    return at + 1
