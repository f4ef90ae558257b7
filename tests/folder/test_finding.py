"""Which word was meant, where one is written that nobody knows."""

from __future__ import annotations

import pytest

from bridge.folder.finding import nearest


@pytest.mark.parametrize(
    ("word", "known", "meant"),
    [
        ("elk", ["elm", "ash"], "elm"),
        ("ahs", ["elm", "ash"], "ash"),
        ("ELM ", ["elm", "ash"], "elm"),
        ("oak", ["elm", "ash"], None),
        ("up", ["on", "off"], None),
        ("w12", ["w11", "w13"], None),  # a number is never taken for another
        ("e", ["e1"], None),
        ("alderr", ["alder", "birch"], "alder"),
        ("wharf", ["alder", "birch"], None),
    ],
)
def test_the_word_that_was_meant(word: str, known: list[str], meant: str | None) -> None:
    assert nearest(word, known) == meant
