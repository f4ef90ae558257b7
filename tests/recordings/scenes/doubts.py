"""Scenes of what cannot be known well enough: wagons that nobody can place."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def _w2_unread(*story: str) -> Scene:
    """g1 leaves Marrowby for Oxlip Quay, and neither limit reads w2: it runs in the train, or stands in a siding."""
    s = oxlip.goods_takes_token(oxlip.set_out_in(oxlip.lift_from_mill(oxlip.goods_at_marrow(*story)), "mill", "w1"))
    return oxlip.goods_comes_to_oxlip(oxlip.goods_leaves_marrow(s, "e1", "w4", "b1").wait(25.0), "e1", "w4", "b1")


def wagon_lost() -> Scene:
    """w2 is looked for where it is said to be likeliest, and found in the tip."""
    s = _w2_unread(
        "w2 is read neither as g1 leaves Marrowby nor as it comes to Oxlip Quay: it may be in the train, or in a siding at",
        "Marrowby. Somebody looks, and finds it in the tip.",
    )
    return s.say("stands w2 marrow.tip", after=150.0).wait(20.0)


def near_wagon_lost() -> Scene:
    """Somebody looks for w2 before it counts as lost."""
    s = _w2_unread(
        "w2 is read neither as g1 leaves Marrowby nor as it comes to Oxlip Quay; but somebody tells at once that it",
        "stands in the train.",
    )
    return s.say("stands w2 oxlip.platform", after=20.0).wait(140.0)


SCENES = {"wagon-lost": wagon_lost, "near-wagon-lost": near_wagon_lost}
