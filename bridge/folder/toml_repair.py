"""What a statement that is no TOML was meant to say, in plain words, and its repaired text where that is clear.

Rule: told once, at the place of the error; the repaired text is read on, so that what refers to it is not told as missing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from bridge.folder.finding import Findings, Spot
from bridge.folder.toml_values import syntax_tree

_HEADER = re.compile(r"\s*(\[+)\s*([\w.\- \"']*?)\s*([\])}]*)\s*(#.*)?")
_KEY = re.compile(
    r"\s*(?P<key>\"[^\"\n]*\"|'[^'\n]*'|[^=:\[\]{}\"'#\n]+?)\s*(?P<sign>=[=\s]*|:|(?=#)|$)(?P<value>.*)", re.DOTALL
)
_QUOTES = str.maketrans(dict.fromkeys("“”„‟«»‘’‚", '"'))
_WORDS = {"true": "true", "false": "false", "yes": "true", "no": "false", "on": "true", "off": "false"}
GENERAL = "Text stands in double quotes, numbers and true or false stand without, a list stands in [ ] with commas between."


@dataclass(frozen=True, slots=True)
class Repair:
    """`text`: the repaired statement, None where nobody can say what was meant; then `key` is the key it was for, if any."""

    spot: Spot
    text: str | None = None
    key: str | None = None


def repaired(file: str, piece: str, line: int, findings: Findings) -> Repair:
    """Tell what is wrong with one statement, and how it is read on."""
    if piece.lstrip().startswith("["):
        return _header(file, piece, line, findings)
    match = _KEY.fullmatch(piece)
    start = len(piece) - len(piece.lstrip()) + 1
    if match is None:
        spot = Spot(file, line, start, piece)
        findings.fault(spot, "This line cannot be read.", "A line is `key = value`. " + GENERAL)
        return Repair(spot)
    key = match["key"].strip()
    plain_key = key if key[0] in "\"'" else re.sub(r"[^\w.-]+", "_", key)
    value = match["value"].strip()
    at = Spot(file, line, start, piece)
    if not match["sign"].strip() or not value or value.startswith("#"):
        findings.fault(at, f'"{key}" has no value.', f"Write `{plain_key} = ...`, or take the line out.")
        return Repair(at, key=plain_key)
    message, better = _value(value)
    if plain_key != key:
        message, better = f'"{key}" is no key: a key has letters, digits, _ and - only.', better or value
    elif match["sign"].strip() != "=":
        message, better = (
            f"Between a key and its value stands one `=`, here stands `{match['sign'].strip()}`.",
            better or value,
        )
    else:
        at = _place(file, piece, line, match.start("value") + len(match["value"]) - len(match["value"].lstrip()))
    mended = None if better is None else f"{plain_key} = {better}"
    if mended is not None and syntax_tree(mended).has_error:
        mended = None
    findings.fault(at, message, GENERAL if mended is None else f"Write `{mended}`.")
    return Repair(at, mended, plain_key)


def _header(file: str, piece: str, line: int, findings: Findings) -> Repair:
    spot = Spot(file, line, piece.index("[") + 1, piece)
    match = _HEADER.fullmatch(piece)
    names = "" if match is None else re.sub(r"[\s\"']+", "", match[2]).strip(".")
    if match is None or not names:
        findings.fault(spot, "This is no table header.", "A table begins with a line like `[railway]` or `[[section]]`.")
        return Repair(spot)
    brackets = min(2, max(len(match[1]), len(match[3])))
    mended = "[" * brackets + names + "]" * brackets
    findings.fault(spot, "The brackets of this table header do not fit each other.", f"Write `{mended}`.")
    return Repair(spot, None if syntax_tree(mended).has_error else mended)


def _place(file: str, piece: str, line: int, offset: int) -> Spot:
    before = piece[:offset]
    return Spot(file, line + before.count("\n"), offset - (before.rfind("\n") + 1) + 1, piece[offset:])


def _value(value: str) -> tuple[str, str | None]:
    """What is wrong with a value, and the better one where it is clear."""
    bare = re.sub(r"\s+#.*$", "", value).strip() if "\n" not in value else value
    straight = bare.translate(_QUOTES)
    if straight != bare:
        return "These are a word processor's quotation marks, not plain ones.", straight
    if bare.lower() in _WORDS:
        return f'"{bare}" is written `{_WORDS[bare.lower()]}` here.', _WORDS[bare.lower()]
    if re.fullmatch(r"[+-]?\d+,\d+", bare):
        return "A number has a point here, no comma.", bare.replace(",", ".")
    if re.fullmatch(r"[+-]?0\d+", bare):
        return "A number does not begin with 0 here.", bare.lstrip("0") or "0"
    if re.fullmatch(r"\d+(\.\d+)?\s*[A-Za-z%]+", bare):
        return "A number stands here without its unit.", re.match(r"[\d.]+", bare)[0]  # type: ignore[index]
    if bare[0] in "\"'" and bare.count(bare[0]) == 1:
        return "This text is not closed: its last quotation mark is missing.", f'"{bare[1:].rstrip()}"'
    if bare[-1] in "\"'" and bare.count(bare[-1]) == 1:
        return "This text is not opened: its first quotation mark is missing.", f'"{bare[:-1]}"'
    if bare[0] == "[" and bare.count("[") > bare.count("]"):
        return "This list is not closed: its last `]` is missing.", bare.rstrip().rstrip(",") + "]"
    if bare[0] == "{" and "\n" in bare:
        return "A table in braces stands on one line.", re.sub(r",\s*}", " }", re.sub(r"\s*\n\s*", " ", bare))
    if bare[0] == "{" and bare.count("{") > bare.count("}"):
        return "This table is not closed: its last `}` is missing.", bare.rstrip().rstrip(",") + " }"
    if re.fullmatch(r"[^\W\d][\w.@-]*", bare):
        return f'"{bare}" is text, and text stands in double quotes.', f'"{bare}"'
    return "This value cannot be read.", None
