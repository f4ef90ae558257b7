"""What a statement that is no TOML was meant to say, in plain words, and its repaired text where that is clear.

Rule: told once, at the place of the error; the repaired text is read on, so that what refers to it is not told as missing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from bridge.folder.finding import LONGEST_TEXT, Findings, Spot
from bridge.folder.toml_values import syntax_tree

_QUOTES = str.maketrans(dict.fromkeys("\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u2019\u201a", '"'))
_WORDS = {"true": "true", "false": "false", "yes": "true", "no": "false", "on": "true", "off": "false"}
GENERAL = "Text stands in double quotes, numbers and true or false stand without, a list stands in [ ] with commas between."


@dataclass(frozen=True, slots=True)
class Repair:
    """`text`: the repaired statement, None where nobody can say what was meant; then `key` is the key it was for, if any."""

    spot: Spot
    text: str | None = None
    key: str | None = None


@dataclass(frozen=True, slots=True)
class _Parts:
    """A statement taken apart: its key, the signs between, and the value, which begins at index `value_at`."""

    key: str
    sign: str
    value: str
    value_at: int


def repaired(file: str, piece: str, line: int, findings: Findings) -> Repair:
    """Tell what is wrong with one statement, and how it is read on."""
    if piece.lstrip().startswith("["):
        return _header(file, piece, line, findings)
    parts = _parts(piece)
    at = Spot(file, line, len(piece) - len(piece.lstrip()) + 1, piece)
    if not parts.key:
        findings.fault(at, "This line cannot be read.", "A line is `key = value`. " + GENERAL)
        return Repair(at)
    key = parts.key if parts.key[0] in "\"'" else re.sub(r"[^\w.-]+", "_", parts.key)
    if not parts.sign or not parts.value or parts.value.startswith("#"):
        findings.fault(at, f'"{parts.key}" has no value.', f"Write `{key} = ...`, or take the line out.")
        return Repair(at, key=key)
    message, better = _value(parts.value)
    if key != parts.key:
        message, better = f'"{parts.key}" is no key: a key has letters, digits, _ and - only.', better or parts.value
    elif parts.sign != "=":
        message = f"Between a key and its value stands one `=`, here stands `{parts.sign}`."
        better = better or parts.value
    else:
        at = _place(file, piece, line, parts.value_at)
    mended = None if better is None else f"{key} = {better}"
    if mended is not None and syntax_tree(mended).has_error:
        mended = None
    clear = mended is not None and len(mended) <= LONGEST_TEXT and "\n" not in mended
    findings.fault(at, message, f"Write `{mended}`." if clear else GENERAL)
    return Repair(at, mended, key)


def _parts(piece: str) -> _Parts:
    """The statement around its first `=` or `:` that stands behind the key."""
    body = piece.lstrip()
    start = len(piece) - len(body)
    behind = body.find(body[0], 1) + 1 if body[0] in "\"'" else 0
    signs = [at for at in (body.find(sign, behind) for sign in "=:#") if at >= 0]
    if not signs or body[min(signs)] == "#":
        return _Parts(body[: min(signs, default=len(body))].strip(), "", "", len(piece))
    at = min(signs)
    rest = body[at:].lstrip(" \t=:" if body[at] == "=" else " \t:")
    value_at = start + len(body) - len(rest)
    return _Parts(body[:at].strip(), body[at : len(body) - len(rest)].strip(), rest.rstrip(), value_at)


def _header(file: str, piece: str, line: int, findings: Findings) -> Repair:
    spot = Spot(file, line, piece.index("[") + 1, piece)
    body = piece.partition("#")[0].strip()
    inner = body.lstrip("[")
    names = inner.rstrip("]})").strip()
    plain = ".".join(part.strip().strip("\"'") for part in names.split("."))
    if not re.fullmatch(r"[\w-]+(\.[\w-]+)*", plain):
        findings.fault(spot, "This is no table header.", "A table begins with a line like `[railway]` or `[[section]]`.")
        return Repair(spot)
    brackets = min(2, max(len(body) - len(inner), len(inner) - len(inner.rstrip("]})"))))
    mended = "[" * brackets + plain + "]" * brackets
    findings.fault(spot, "The brackets of this table header do not fit each other.", f"Write `{mended}`.")
    return Repair(spot, None if syntax_tree(mended).has_error else mended)


def _place(file: str, piece: str, line: int, offset: int) -> Spot:
    before = piece[:offset]
    return Spot(file, line + before.count("\n"), offset - (before.rfind("\n") + 1) + 1, piece[offset:])


def _without_comment(value: str) -> str:
    """A value of one line without the comment behind it."""
    at = value.find(" #")
    return value if "\n" in value or at < 0 else value[:at].rstrip()


def _value(value: str) -> tuple[str, str | None]:
    """What is wrong with a value, and the better one where it is clear."""
    bare = _without_comment(value)
    straight = bare.translate(_QUOTES)
    if straight != bare:
        return "These are a word processor's quotation marks, not plain ones.", straight
    if bare.lower() in _WORDS:
        return f'"{bare}" is written `{_WORDS[bare.lower()]}` here.', _WORDS[bare.lower()]
    if bare[0] in "[{":
        return _bracketed(bare)
    if bare[0] in "\"'" and bare.count(bare[0]) == 1:
        return "This text is not closed: its last quotation mark is missing.", f'"{bare[1:].rstrip()}"'
    if bare[-1] in "\"'" and bare.count(bare[-1]) == 1:
        return "This text is not opened: its first quotation mark is missing.", f'"{bare[:-1]}"'
    if re.fullmatch(r"[+-]?\d+,\d+", bare):
        return "A number has a point here, no comma.", bare.replace(",", ".")
    if re.fullmatch(r"[+-]?0\d+", bare):
        return "A number does not begin with 0 here.", bare.lstrip("+-0") or "0"
    if unit := re.fullmatch(r"(\d+(?:\.\d+)?)[ ]?(?:mm|ms|s|min|minutes|seconds)", bare):
        return "A number stands here without its unit.", unit[1]
    if re.fullmatch(r"[^\W\d][\w.@-]*", bare):
        return f'"{bare}" is text, and text stands in double quotes.', f'"{bare}"'
    return "This value cannot be read.", None


def _bracketed(bare: str) -> tuple[str, str | None]:
    """What is wrong with a list or with a table in braces."""
    if bare[0] == "[" and bare.count("[") > bare.count("]"):
        return "This list is not closed: its last `]` is missing.", bare.rstrip(" ,") + "]"
    if bare[0] == "{" and "\n" in bare:
        one_line = " ".join(row.strip() for row in bare.split("\n"))
        return "A table in braces stands on one line.", re.sub(r",\s?}", " }", one_line)
    if bare[0] == "{" and bare.count("{") > bare.count("}"):
        return "This table is not closed: its last `}` is missing.", bare.rstrip(" ,") + " }"
    return "This value cannot be read.", None
