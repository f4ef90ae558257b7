"""What a word asks for, and what the seed takes where the word leaves it open."""

from __future__ import annotations

import pytest

from bridge.virtual.wishes import Wish, nearest

PAIRS = [("a", "b"), ("a", "c"), ("b", "c")]


@pytest.mark.parametrize(
    ("word", "name", "subjects"),
    [
        ("weak-tag", "weak-tag", ()),
        ("weak-tag=w1", "weak-tag", ("w1",)),
        ("pair=a+b", "pair", ("a", "b")),
        ("pair=", "pair", ()),
    ],
)
def test_a_word_is_a_name_and_subjects(word: str, name: str, subjects: tuple[str, ...]) -> None:
    assert (Wish(word).name, Wish(word).subjects) == (name, subjects)


def test_the_first_subject_that_is_none_is_told() -> None:
    assert Wish("pair=a+x+y").unknown(["a", "b"]) == "x"
    assert Wish("pair=b+a").unknown(["a", "b"]) is None


def test_all_subjects_have_to_come_together_in_whatever_order() -> None:
    assert Wish("pair=b+a").choose(PAIRS, [], tuple, 1) == ("a", "b")
    assert Wish("pair=a+x").choose(PAIRS, PAIRS, tuple, 1) is None


def test_the_seed_takes_what_matters_and_what_there_is_where_nothing_does() -> None:
    taken = {Wish("pair").choose(PAIRS, PAIRS[:2], tuple, seed) for seed in range(30)}
    assert taken == set(PAIRS[:2])
    assert {Wish("pair=c").choose(PAIRS, PAIRS[:1], tuple, seed) for seed in range(30)} == set(PAIRS[1:])
    assert all(
        Wish("pair").choose(PAIRS, [], tuple, seed) == Wish("pair").choose(PAIRS, [], tuple, seed) for seed in range(9)
    )


def test_the_nearest_where_anything_is_near() -> None:
    assert nearest("weak-tagg", ["strong-tag", "weak-tag"]) == "weak-tag"
    assert nearest("weak-tag", ["brownout"]) is None
