"""Trains in, or on their way into, what is not proved; and trains that wait before it."""

from __future__ import annotations

import pytest

from ..authority_steps import r3_out
from ..conftest import DOCKS, ENDS, TRACKS, Session, line

ALL = (*TRACKS, *ENDS, *DOCKS)
W2 = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"


def evening(*proofs: str, proved: bool = True, **how: str) -> Session:
    s = Session(line(detectors=(*ALL, *proofs), **how), begin=None)
    if proved:
        s.on(*proofs)
    s.say("begin 19:01")
    return s


def kinds(s: Session) -> list[tuple[str, str, str]]:
    return [(row["kind"], row["train"], row["detector"]) for row in s.open()]


def test_an_entry_is_told_of_at_once_and_what_is_proved_ends_it() -> None:
    s = evening("bridge", proved=False)
    s.off("bridge").on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    (row,) = s.open()
    assert (row["kind"], row["level"], row["train"], row["detector"]) == ("not-proved", "danger", "g1", "bridge")
    assert (row["section"], row["road"], row["throat"], row["t"]) == ("ash-birch", None, None, s.t)
    s.on("bridge")
    assert s.open() == []


def test_unknown_is_not_proved() -> None:
    s = evening("bridge", proved=False)  # nothing has ever said how it stands
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    (row,) = s.open("not-proved")
    assert "unknown" in row["text"]


def test_waiting_before_it_raises_nothing() -> None:
    s = evening("bridge")
    s.off("bridge").wait(120.0)
    assert s.open() == []


@pytest.mark.parametrize(("rake_goes", "left_to_do", "told", "is_said"), [
    (True, False, False, True),
    (True, True, False, False),
    (False, False, False, False),
    (False, True, True, True),
])  # fmt: skip
def test_leaving_the_road_towards_it(rake_goes: bool, left_to_do: bool, told: bool, is_said: bool) -> None:
    s = evening("bridge", **({"moves": W2} if left_to_do else {}))
    s.off("bridge")
    if told:
        s.say("depart g1")
        assert s.open() == []  # it stands there still
    s.on("ash-throat", after=2.0)
    if rake_goes:
        s.off("ash-main", after=2.0).wait(2.0)
    assert kinds(s) == ([("not-proved", "g1", "bridge")] if is_said else [])
    if rake_goes and is_said:
        assert "is leaving for ash-birch" in s.open()[0]["text"]
        s.on("ash-main").off("ash-throat").wait(3.0)  # it sets back
        assert s.open() == []


@pytest.mark.parametrize("inside", ["in it", "come in"])
def test_what_is_lost_under_a_train(inside: str) -> None:
    s = evening("bridge")
    s.goods_leaves()
    if inside == "come in":
        s.goods_comes().wait(3.0)
    s.off("bridge")
    assert [row["kind"] for row in s.open()] == (["not-proved"] if inside == "in it" else [])
    if inside == "in it":
        s.goods_comes().wait(3.0)
        assert s.open() == []


def test_a_second_train_or_a_second_time_is_another_item() -> None:
    s = evening("bridge")
    s.goods_leaves().off("bridge").on("bridge").off("bridge")
    ids = [row["id"] for row in s.rows("irregularity", kind="not-proved", status="open")]
    assert len(set(ids)) == 2
    r3_out(s)
    assert sorted(row["train"] for row in s.open("not-proved")) == ["g1", "r3"]


def test_a_proof_that_counts_no_more_has_a_second_to_say_how_it_stands() -> None:
    s = evening("bridge")
    s.goods_leaves()
    s.say("mute bridge")
    s.wait(0.9)
    assert s.open() == []
    s.wait(0.2)
    (row,) = s.open()
    assert row["kind"] == "not-proved" and "muted" in row["text"]
    s.say("unmute bridge")
    assert s.open() == []


def test_gates_across_a_throat_are_for_whoever_comes_into_it() -> None:
    s = evening("ash-gates")
    s.off("ash-gates").on("ash-throat", after=2.0).off("ash-main", after=2.0).wait(1.0)
    (row,) = s.open()
    assert (row["kind"], row["throat"], row["section"], row["detector"]) == ("not-proved", "ash.down", None, "ash-gates")


def test_gates_across_a_road_are_for_whoever_comes_on_to_it() -> None:
    s = evening("dock-gates", moves="vehicle,from,to,working,call\nw1,ash.main,birch.dock,g1,\n")
    s.goods_leaves().goods_comes().off("dock-gates").wait(5.0)
    assert s.open() == []
    s.on("birch-throat", after=2.0).read("birch-dock-reader", "e1", after=2.0).off("birch-throat").wait(2.0)
    (row,) = s.open()
    assert (row["kind"], row["road"], row["train"]) == ("not-proved", "birch.dock", "g1")
