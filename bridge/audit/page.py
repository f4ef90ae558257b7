"""The pieces a report page is made of: elements, tables, evidence that opens on demand, one style, no script.

Rule: every text goes into the tree as text, so the writer of the tree escapes it; no piece refers to anything outside the
page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

from bridge.audit.style import STYLE

Cell = str | Callable[[Element], None]
MOST_LINES = 60
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")


def start(title: str) -> tuple[Element, Element]:
    """A fresh page; its root and the element that holds its content."""
    root = Element("html", lang="en")
    head = SubElement(root, "head")
    SubElement(head, "meta", charset="utf-8")
    SubElement(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    put(head, "title", title)
    put(head, "style", STYLE)
    return root, SubElement(SubElement(root, "body"), "main")


def finish(root: Element) -> str:
    """The page as text."""
    return "<!DOCTYPE html>\n" + tostring(root, encoding="unicode", method="html") + "\n"


def put(parent: Element, tag: str, text: str = "", kind: str = "") -> Element:
    """A new element with this text; `kind` is its class."""
    made = SubElement(parent, tag, {"class": kind} if kind else {})
    made.text = printable(text)
    return made


def printable(text: str) -> str:
    """The text without the characters that neither a page nor XML may hold (controls, halves of pairs, non-characters)."""
    return _UNPRINTABLE.sub("", text)


def chapter(parent: Element, anchor: str, title: str) -> Element:
    """A section of the page under its own heading."""
    made = SubElement(parent, "section", id=anchor)
    put(made, "h2", title)
    return made


def table(parent: Element, labels: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """A table; on a phone each row becomes a block, every cell with its label. A cell is a text, or fills its element."""
    made = put(put(parent, "div", kind="wide"), "table")
    top = put(put(made, "thead"), "tr")
    for label in labels:
        put(top, "th", label).set("scope", "col")
    body = put(made, "tbody")
    for cells in rows:
        line = put(body, "tr")
        for label, cell in zip(labels, cells, strict=True):
            field = SubElement(line, "td", {"data-label": label})
            held = put(field, "div")
            if callable(cell):
                cell(held)
            else:
                held.text = printable(cell)
                if not cell:
                    field.set("class", "empty")


def evidence(parent: Element, numbers: Iterable[int], lines: dict[int, str]) -> None:
    """The journal's lines of these numbers, opened on demand; nothing where there are none."""
    held = sorted(set(numbers))
    if not held:
        return
    details = put(parent, "details")
    put(details, "summary", f"evidence: {len(held)} {'line' if len(held) == 1 else 'lines'} of the journal")
    shown = held if len(held) <= MOST_LINES else held[-MOST_LINES:]
    listed = [f"{number:>6}  {lines.get(number, '(not in this journal)')}" for number in shown]
    if len(shown) < len(held):
        listed.insert(0, f"({len(held) - len(shown)} earlier ones stand in session.capture)")
    put(details, "pre", "\n".join(listed))
