"""Entries by the end that a section's `directions` close, and what is none."""

from __future__ import annotations

import pytest

from .authority_cases import r3_out
from .conftest import Session, line

DOWN, UP, BOTH = '["down"]', '["up"]', '["up", "down"]'


@pytest.mark.parametrize(
    ("directions", "goes_down", "is_wrong"),
    [
        (DOWN, True, False),
        (DOWN, False, True),
        (UP, True, True),
        (UP, False, False),
        (BOTH, True, False),
        (BOTH, False, False),
    ],
)
def test_who_enters_by_the_closed_end_is_told_of_at_once(directions: str, goes_down: bool, is_wrong: bool) -> None:
    s = Session(line(section=f"directions = {directions}\n"))
    if goes_down:
        s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    else:
        r3_out(s)
    found = s.open("wrong-direction")
    assert [(row["level"], row["train"], row["section"]) for row in found] == (
        [("danger", "g1" if goes_down else "r3", "ash-birch")] if is_wrong else []
    )
    if is_wrong:
        assert f"no train may run {'down' if goes_down else 'up'}" in found[0]["text"]
        assert found[0]["evidence"] and found[0]["t"] - found[0]["happened"] < 0.5


def test_it_ends_when_the_train_is_back_where_it_went_in() -> None:
    s = Session(line(section=f"directions = {UP}\n"))
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    assert s.open("wrong-direction")
    s.read("ash-end", "e1", after=5.0).off("line").off("ash-throat", after=2.0).wait(3.0)
    assert s.open() == []


def test_coming_back_out_where_it_entered_is_none() -> None:
    s = Session(line(section=f"directions = {DOWN}\n"))
    s.goods_leaves().wait(25.0)
    s.on("ash-throat").read("ash-end", "v1", "w1", "e1").off("line").off("ash-throat", after=2.0).wait(3.0)
    assert s.rows("irregularity") == []


def test_a_train_that_assists_may_go_in_by_either_end() -> None:
    s = Session(line(section=f"directions = {DOWN}\n"))
    s.goods_leaves()
    s.say("give ash-birch r3 assisting")
    r3_out(s)
    assert s.open() == []
