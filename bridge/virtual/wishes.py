"""What is asked for by a word: `NAME`, or `NAME=SUBJECT`, several subjects with `+`.

Rule: a name alone leaves its subject to the seed, which takes one that matters where there is one; the same word and the
same seed always take the same. What a subject can be, and how one that cannot be is refused, is told by whoever offers it.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from random import Random
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Wish:
    """A word of `--faults`."""

    word: str

    @property
    def name(self) -> str:
        """What is to happen."""
        return self.word.partition("=")[0]

    @property
    def subjects(self) -> tuple[str, ...]:
        """To what or whom; nothing where that is left to the seed."""
        named = self.word.partition("=")[2]
        return tuple(named.split("+")) if named else ()

    def unknown(self, known: Collection[str]) -> str | None:
        """The first subject that is none of these."""
        return next((subject for subject in self.subjects if subject not in known), None)

    def choose(
        self, possible: Iterable[T], likely: Collection[T], words: Callable[[T], Iterable[str]], seed: int
    ) -> T | None:
        """One that has all subjects among its `words`, a likely one if there is one; None where there is none at all."""
        fitting = [one for one in possible if set(self.subjects) <= set(words(one))]
        preferred: Sequence[T] = [one for one in fitting if one in likely] or fitting
        return Random(f"{self.word} {seed}").choice(preferred) if preferred else None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """What of `known` is most like the word, where anything is."""
    return next(iter(difflib.get_close_matches(word, list(known), 1)), None)
