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
    "overfull-road": overfull_road,
    "near-overfull-road": near_overfull_road,
}
