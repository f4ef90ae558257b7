"""What a departure shows is said once the train has surely gone: another engine may have gone in its place."""

from __future__ import annotations

from dataclasses import replace

from ..conftest import Session
from .test_early import evening


def unsure(s: Session, sure: float) -> None:
    """Where e1 is, is held as before, but only so surely."""
    where = s.state.where
    assert where is not None
    held = type(where).belief

    def belief(vehicle: str):  # type: ignore[no-untyped-def]
        found = held(where, vehicle)
        return replace(found, sure=min(found.sure, sure)) if vehicle == "e1" else found

    where.belief = belief  # type: ignore[method-assign]


def surer(s: Session) -> None:
    """Where e1 is, is as sure as it was, and the core goes round once."""
    where = s.state.where
    assert where is not None
    del where.belief  # type: ignore[attr-defined]
    where._held.touched["e1"] = None  # type: ignore[attr-defined]
    s.wait(1.0)
    s.see("ash-loop", "off", 0.1)


def test_who_may_not_have_gone_has_left_nothing_too_early() -> None:
    s = evening(depart="19:30")
    unsure(s, 0.9)
    s.goods_leaves().wait(3.0)
    assert s.rows("departed", train="g1")
    assert s.rows("irregularity", kind="early-departure") == []


def test_it_is_said_once_that_is_sure() -> None:
    s = evening(depart="19:30")
    unsure(s, 0.9)
    s.goods_leaves().wait(3.0)
    surer(s)
    assert [row["train"] for row in s.open("early-departure")] == ["g1"]


def test_sure_only_after_its_time_it_may_have_left_in_time() -> None:
    s = evening(depart="19:02")
    unsure(s, 0.9)
    s.goods_leaves().wait(120.0)
    surer(s)
    assert s.rows("irregularity", kind="early-departure") == []


def test_whoever_says_that_it_departs_makes_it_sure() -> None:
    s = evening(depart="19:30")
    unsure(s, 0.9)
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    s.say("depart g1", after=2.0)
    s.wait(1.0)
    assert [row["train"] for row in s.open("early-departure")] == ["g1"]


def test_who_was_surely_never_there_has_not_left_from_there() -> None:
    s = evening(depart="19:30")
    unsure(s, 0.9)
    s.state.roster.trains["g1"].sure_at = "birch"
    s.goods_leaves().wait(3.0)
    surer(s)
    assert s.rows("departed", train="g1")
    assert s.rows("irregularity", kind="early-departure") == []


def test_it_is_sure_once_nothing_has_been_heard_of_it_for_long() -> None:
    """Its van was not read as it went, and may have stayed; the deadline alone tells."""
    s = evening(depart="19:30")
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "w1")
    s.off("ash-main", after=0.2).off("ash-throat", after=1.0).wait(21.0)
    assert s.state.roster.trains["g1"].is_gone
    assert [row["train"] for row in s.open("early-departure")] == ["g1"]


def test_a_garbled_read_is_no_sign_of_a_train() -> None:
    s = evening(depart="19:02")
    s.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2)
    out_t = s.t
    s.off("ash-main", after=1.0).see("ash-end", "tag=04B1FF", 30.0).wait(8.0)
    (departed,) = s.rows("departed", train="g1")
    assert departed["t"] <= out_t + 40.0  # the garbled read came after 31 s, less than 20 s before
