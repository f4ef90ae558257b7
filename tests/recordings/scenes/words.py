"""Scenes in which people tell what no detector sees, and what they told is taken for true."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def told_freight() -> Scene:
    """The mill's reader is broken: the crew tells that it sets out w1, and by eye where w3 stands."""
    s = oxlip.goods_at_marrow(
        "The mill's reader at Marrowby is broken. The crew of g1 tells that it has set out w1 there; and somebody sees that",
        "w3 stands in the tip, and tells that too.",
    )
    s.on("marrow-down-throat", after=4.0).say("sets-out g1 w1 marrow.mill", after=6.0).off("marrow-down-throat", after=4.0)
    return s.wait(4.0).say("stands w3 marrow.tip 1", after=4.0).wait(8.0)


def told_departure() -> Scene:
    """g1 leaves Marrowby with its moves undone, for the crew has no time: it has departed as soon as it is told so."""
    s = oxlip.goods_takes_token(
        oxlip.goods_at_marrow("g1 leaves Marrowby with nothing done there, and tells that it has departed.")
    )
    return oxlip.goods_leaves_marrow(s, "e1", "w1", "w2", "b1").say("depart g1", after=1.0).wait(6.0)


def explained() -> Scene:
    """A danger is acknowledged, explained and judged; it ends when its train next departs."""
    s = Scene(
        "p1 leaves Oxlip Quay without the token. It is acknowledged, explained, and judged to be somebody's own mistake.",
        begin="19:02",
    )
    s = oxlip.passenger_leaves_oxlip(s, after=10.0).say("acknowledge i1", after=1.0)
    s = s.say("explain i1 the token had been left in the shed", after=2.0).say("verdict i1 mine", after=1.0)
    return oxlip.passenger_leaves_marrow(oxlip.passenger_comes_to_marrow(s), after=4.0).wait(4.0)


SCENES = {"told-freight": told_freight, "told-departure": told_departure, "explained": explained}
