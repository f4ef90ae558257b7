"""What is wrong with a folder, and exactly where: one finding a cause, with the remedy in the words of the files.

Rule: nothing here stops at the first finding. Lines and columns count from 1, as an editor shows them.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Set
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Literal

Level = Literal["fault", "conflict", "advice"]

FILES = ("railway.toml", "stock.csv", "whereabouts.csv", "timetable.csv", "moves.csv")
LONGEST_TEXT = 80
SHORT = 3


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in one of the files, and the text that stands there."""

    file: str
    line: int
    column: int
    text: str

    def named(self) -> str:
        """The place as a message names it: "stock.csv line 3"."""
        return f"{self.file} line {self.line}"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong (fault, conflict) or worth knowing (advice). `text` is what stands there."""

    level: Level
    file: str
    line: int
    column: int
    text: str
    message: str
    remedy: str

    def as_dict(self) -> dict[str, str | int]:
        """The finding as `check --json` prints it."""
        return asdict(self)


class Findings:
    """Collects what is found; the same thing said twice is kept once."""

    def __init__(self) -> None:
        self._found: dict[Finding, None] = {}

    def fault(self, spot: Spot, message: str, remedy: str) -> None:
        """Something that shows in one row or table, or refers to nothing."""
        self._add("fault", spot, message, remedy)

    def conflict(self, spot: Spot, message: str, remedy: str) -> None:
        """Two rows against each other, or plan against plant: it cannot be worked as written."""
        self._add("conflict", spot, message, remedy)

    def advice(self, spot: Spot, message: str, remedy: str) -> None:
        """Nothing wrong, but worth knowing."""
        self._add("advice", spot, message, remedy)

    def _add(self, level: Level, spot: Spot, message: str, remedy: str) -> None:
        finding = Finding(level, spot.file, spot.line, spot.column, shortened(spot.text), message, remedy)
        self._found.setdefault(finding)

    def any_fault(self) -> bool:
        """True when a fault was found: the folder cannot be taken."""
        return any(finding.level == "fault" for finding in self._found)

    def in_order(self) -> tuple[Finding, ...]:
        """All findings by file, line and column."""
        place = {name: n for n, name in enumerate(FILES)}
        return tuple(sorted(self._found, key=lambda f: (place.get(f.file, len(place)), f.file, f.line, f.column)))


def shortened(text: str) -> str:
    """The first line of `text`, cut where it is too long to quote; NUL bytes and the like made visible."""
    first = text.strip().split("\n", 1)[0].rstrip()
    shown = "".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}" for c in first)
    return shown if len(shown) <= LONGEST_TEXT else shown[: LONGEST_TEXT - 1] + "\N{HORIZONTAL ELLIPSIS}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` was most likely meant to be, or None where a guess would be silly.

    Words that differ in a number are never taken for each other: w12 is no likelier to be w11 than w13.
    """
    plain = _plain(word)
    if len(plain) > LONGEST_TEXT:
        return None
    choices: dict[str, str] = {}
    for candidate in sorted(known):
        choices.setdefault(_plain(candidate), candidate)
    if plain in choices:
        return choices[plain]
    alike = [c for c in choices if _alike(plain, c)]
    cutoff = 0.66 if len(plain) <= SHORT else 0.72  # of three letters one may be wrong
    close = difflib.get_close_matches(plain, alike, n=1, cutoff=cutoff)
    return choices[close[0]] if close else None


def did_you_mean(word: str, known: Iterable[str], else_say: str) -> str:
    """A remedy: the likely word where there is one, otherwise `else_say`."""
    guess = nearest(word, known)
    return f'Did you mean "{guess}"?' if guess is not None else else_say


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words for a sentence: "a, b, c", cut where there are too many to read."""
    every = sorted(words) if isinstance(words, Set) else list(words)  # a set has no order that two runs would share
    return ", ".join(every[:most]) + (f" and {len(every) - most} more" if len(every) > most else "") if every else "(none)"


@lru_cache(maxsize=20_000)
def _plain(word: str) -> str:
    return word.strip().casefold().replace("_", "-").replace(" ", "-")


def _alike(word: str, other: str) -> bool:
    """Whether a closer look is worth its time: one slip seldom changes both the first letter and the last."""
    if not word or not other or (word[0] != other[0] and word[-1] != other[-1]):
        return False
    return _numbers(word) == _numbers(other)


@lru_cache(maxsize=20_000)
def _numbers(word: str) -> tuple[str, ...]:
    return tuple(re.findall(r"\d+", word))
