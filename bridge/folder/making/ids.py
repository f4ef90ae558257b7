"""Ids made from names: a-z, 0-9 and "-", each once.

Rule: an id is short, can be typed, and reminds of its name; where a name has no such letters it counts on from its kind.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from itertools import count

LONGEST = 16
"""What a board's id may have; a board is called as its station is."""

_LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "ħ": "h"}
)


class Ids:
    """Gives out ids of one kind ("station", "road"); those `reserved` mean something else already."""

    def __init__(self, kind: str, reserved: Iterable[str] = (), longest: int = LONGEST) -> None:
        self._kind = kind
        self._longest = longest
        self._reserved = frozenset(reserved)
        self._given: set[str] = set()

    def of(self, name: str) -> str:
        """The id of the next one, which has this name."""
        plain = plainly(name)[: self._longest].strip("-")
        if not plain:
            plain = f"{self._kind}-1"
        elif plain in self._reserved:
            plain = f"{plain}-{self._kind}"
        made = next(found for found in self._tries(plain) if found not in self._given)
        self._given.add(made)
        return made

    def _tries(self, plain: str) -> Iterable[str]:
        yield plain
        stem = self._kind if plain == f"{self._kind}-1" else plain
        for n in count(2):
            ending = f"-{n}"
            yield stem[: self._longest - len(ending)].rstrip("-") + ending


def plainly(name: str) -> str:
    """A name in the letters of ids; "" where nothing of it is left."""
    bare = unicodedata.normalize("NFKD", name.casefold().translate(_LETTERS))
    kept = "".join(sign for sign in bare if not unicodedata.combining(sign))
    return re.sub(r"[^a-z0-9]+", "-", kept).strip("-")
