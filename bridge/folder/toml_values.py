"""TOML as values that know where they stand: leaves, lists and tables, each with its spot.

Rule: the shape and the positions come from the syntax tree, the value of each leaf from the standard library's `tomllib`, so
no number or escape is read by rules of our own.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from typing import Any

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from bridge.folder.finding import Findings, Spot

DEEPEST = 12
_PARSER = Parser(Language(tree_sitter_toml.language()))


@dataclass(frozen=True, slots=True)
class Leaf:
    """Text, a number, true or false, a date."""

    spot: Spot
    value: Any


@dataclass(frozen=True, slots=True)
class Items:
    """A list in square brackets."""

    spot: Spot
    values: tuple[Value, ...]


@dataclass(slots=True)
class Table:
    """A table: from a header, in braces, or made by a dotted key. `spot` is its header's."""

    spot: Spot
    entries: dict[str, Entry] = field(default_factory=dict)
    from_header: bool = False


@dataclass(slots=True)
class Tables:
    """The tables of one `[[header]]`, in order."""

    spot: Spot
    tables: list[Table] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Broken:
    """A value that cannot be read; it has been told already."""

    spot: Spot


@dataclass(frozen=True, slots=True)
class Entry:
    """A key with its value."""

    spot: Spot
    value: Value


Value = Leaf | Items | Table | Tables | Broken


@dataclass(frozen=True, slots=True)
class Name:
    """One part of a key or header."""

    text: str
    spot: Spot


def syntax_tree(text: str) -> Node:
    """The syntax tree of some TOML; where it has errors, `has_error` is true."""
    return _PARSER.parse(text.encode()).root_node


class Lines:
    """Where the nodes of one syntax tree stand in the file. `first_line` is the file's line at which its text begins."""

    def __init__(self, file: str, text: str, first_line: int, findings: Findings) -> None:
        self.file = file
        self.first_line = first_line
        self.findings = findings
        self._rows = [row.encode() for row in text.split("\n")]

    def spot(self, node: Node) -> Spot:
        """The node's place; the column counts characters, not bytes."""
        row, column = node.start_point
        before = self._rows[row][:column].decode(errors="replace")
        return Spot(self.file, self.first_line + row, len(before) + 1, text_of(node))

    def names(self, node: Node) -> list[Name]:
        """The parts of a key or header: a bare, quoted or dotted key."""
        found: list[Name] = []
        while node.type == "dotted_key":  # it nests to the left, as deep as it has dots
            found.append(self._name(node.named_children[-1]))
            node = node.named_children[0]
        if node.type in ("bare_key", "quoted_key"):
            found.append(self._name(node))
        return found[::-1]

    def _name(self, node: Node) -> Name:
        text = self._plain(node) if node.type == "quoted_key" else text_of(node)
        return Name(text if isinstance(text, str) else text_of(node), self.spot(node))

    def value(self, node: Node, depth: int = 0) -> Value:
        """The value of a node; what cannot be read is told and comes back as `Broken`."""
        spot = self.spot(node)
        if depth > DEEPEST:
            self.findings.fault(
                spot, "Lists and tables stand inside each other too deeply here.", "No key needs that: take it out."
            )
            return Broken(spot)
        if node.type == "array":
            inner = (c for c in node.named_children if c.type != "comment")
            return Items(spot, tuple(self.value(child, depth + 1) for child in inner))
        if node.type == "inline_table":
            return self._inline(node, spot, depth)
        plain = self._plain(node)
        if isinstance(plain, Exception):
            reason = str(plain).partition(" (at ")[0] or "it cannot be read"
            self.findings.fault(
                spot, f"This value cannot be read: {reason}.", "Write it anew: text in double quotes, numbers without."
            )
            return Broken(spot)
        return Leaf(spot, plain)

    def _plain(self, node: Node) -> Any:
        try:
            return tomllib.loads(f"value = {text_of(node)}")["value"]
        except (ValueError, RecursionError, OverflowError) as error:
            return error

    def _inline(self, node: Node, spot: Spot, depth: int) -> Value:
        table = Table(spot)
        for pair in node.named_children:
            if pair.type == "pair":
                key, value = pair.named_children[0], pair.named_children[-1]
                put(table, self.names(key), self.value(value, depth + 1), self.findings)
        return table


def text_of(node: Node) -> str:
    """The source text of a node."""
    return (node.text or b"").decode(errors="replace")


def put(table: Table, names: list[Name], value: Value, findings: Findings, quiet: bool = False) -> None:
    """Set a key, dotted or not, telling one that is said twice (unless `quiet`); the first stands."""
    for name in names[:-1]:
        entry = table.entries.get(name.text)
        if entry is None:
            entry = Entry(name.spot, Table(name.spot))
            table.entries[name.text] = entry
        if not isinstance(entry.value, Table):
            findings.fault(
                name.spot, f'"{name.text}" has a value already, in line {entry.spot.line}.', "Keep one of the two."
            )
            return
        table = entry.value
    if not names:
        return
    last = names[-1]
    earlier = table.entries.get(last.text)
    if earlier is None:
        table.entries[last.text] = Entry(last.spot, value)
    elif not quiet:
        findings.fault(
            last.spot,
            f'"{last.text}" is said twice: it stands already in line {earlier.spot.line}.',
            "Keep one of the two and take the other out.",
        )
