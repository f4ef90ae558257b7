"""Scenes at stations: on which road a train came in, how full roads are, engines running round."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def wrong_road() -> Scene:
    """g1 comes in on Marrowby's platform; the loop was booked."""
    s = Scene("The points at Marrowby lie wrong: g1 comes in on the platform, and the loop was booked.")
    return oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(s), "platform")


def near_wrong_road() -> Scene:
    """g1 comes in on the loop as booked, and its engine runs round by the platform."""
    s = oxlip.goods_at_marrow(
        "g1 comes in on Marrowby's loop as booked; then its engine runs round its train by the platform."
    )
    return oxlip.engine_runs_round(s)


def near_wrong_road_at_a_crossing() -> Scene:
    """g1 and p1 come in at Marrowby at once, each on the road that is booked for it."""
    s = Scene(
        "g1 comes in at Marrowby by one end and p1 by the other. The platform becomes occupied just after g1's engine was",
        "read, while the loop is clear still; but that is p1, where it is booked.",
    )
    s = oxlip.token_to_oxlip(oxlip.goods_leaves_thistle(s)).off("oxlip-token", after=4.0).wait(2.0)
    s = oxlip.passenger_leaves_oxlip(s)
    s.on("marrow-down-throat", after=9.0).read("marrow-down-limit", "e2", after=0.2).off("marrow-oxlip-line", after=0.6)
    s = oxlip.passes_coach(s, "marrow-down-limit")
    s.on("marrow-up-throat", after=0.2).read("marrow-up-limit", "e1", after=0.2).on("marrow-platform", after=0.4)
    s.read("marrow-up-limit", "w1", "w2", after=0.8).on("marrow-loop", after=0.3).off("marrow-down-throat", after=0.2)
    s.read("marrow-up-limit", "b1", after=0.7).off("thistle-marrow-line", after=0.5).off("marrow-up-throat", after=2.5)
    return s.lay("marrow-token", after=3.0).wait(8.0)


def near_wrong_road_while_both_come() -> Scene:
    """The same, with the engine of p1 read after that of g1, and its section not clear yet."""
    s = Scene(
        "g1 and p1 come in at Marrowby by its two ends within a second. The platform becomes occupied while nothing has",
        "proved either of their sections clear; it is p1, where it is booked.",
    )
    s = oxlip.token_to_oxlip(oxlip.goods_leaves_thistle(s)).off("oxlip-token", after=4.0).wait(2.0)
    s = oxlip.passenger_leaves_oxlip(s)
    s.on("marrow-down-throat", after=9.0).on("marrow-up-throat", after=0.2).read("marrow-up-limit", "e1", after=0.2)
    s.read("marrow-down-limit", "e2", after=0.4).on("marrow-platform", after=0.8).off("marrow-oxlip-line", after=0.2)
    oxlip.passes_coach(s, "marrow-down-limit").read("marrow-up-limit", "w1", "w2", after=0.8)
    s.on("marrow-loop", after=0.3).off("marrow-down-throat", after=0.2).read("marrow-up-limit", "b1", after=0.7)
    s.off("thistle-marrow-line", after=0.5).off("marrow-up-throat", after=2.5)
    return s.lay("marrow-token", after=3.0).wait(8.0)


def overfull_road() -> Scene:
    """w1 and w2 are pushed into the tip, which holds three wagons already."""
    s = oxlip.goods_at_marrow(
        "g1's crew takes the tip for the mill, and leaves w1 and w2 there behind w6, w7 and w8: 450 mm on 400 mm."
    )
    return oxlip.set_out_in(s, "tip", "w2", "w1").wait(6.0)


def near_overfull_road() -> Scene:
    """w1 alone is pushed into the tip: 360 of 400 mm."""
    s = oxlip.goods_at_marrow(
        "g1's crew takes the tip for the mill, and leaves w1 there behind w6, w7 and w8: 360 mm on 400 mm."
    )
    return oxlip.set_out_in(s, "tip", "w1").wait(6.0)


SCENES = {
    "wrong-road": wrong_road,
    "near-wrong-road": near_wrong_road,
    "near-wrong-road-at-a-crossing": near_wrong_road_at_a_crossing,
    "near-wrong-road-while-both-come": near_wrong_road_while_both_come,
    "overfull-road": overfull_road,
    "near-overfull-road": near_overfull_road,
}
