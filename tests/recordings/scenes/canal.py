"""Scenes of the Heron Canal Line: which way a train goes, when, and over what."""

from __future__ import annotations

from ..scene import Scene
from . import heron


def _on_canal(*story: str, begin: str) -> Scene:
    return Scene(*story, folder="canal", begin=begin)


def wrong_direction() -> Scene:
    """u1 goes out of Lockside on the line that comes from Weirhead."""
    s = _on_canal(
        "u1 leaves Lockside for Weirhead, and the points have been left for the down line: it goes out against all that may",
        "come. Its driver sees it, stops and sets back to the platform.",
        begin="09:08",
    )
    s = heron.passenger_to_lock(s)
    s.on("lock-up-throat", after=3.0).on("weir-lock-line", after=3.0).read("weir-lock-at-lock", "e2", after=0.2)
    s.wait(5.0).read("weir-lock-at-lock", "e2").off("weir-lock-line", after=0.5).off("lock-up-throat", after=3.0)
    return s.wait(12.0)


def near_wrong_direction() -> Scene:
    """d1 comes back out of the down line where it went in."""
    s = _on_canal(
        "d1 has gone out of Weirhead on the down line and stops there, for its lamp is out; it sets back to where it was:",
        "up on the down line, but it has not gone in by the closed end.",
        begin="09:01",
    )
    s = heron.goods_leaves_weir(s).wait(6.0)
    s.on("weir-down-throat").read("weir-lock-at-weir", "b1", after=0.2).read("weir-lock-at-weir", "w2")
    s.on("weir-loop", after=0.3).read("weir-lock-at-weir", "w1", "e1", after=0.9).off("weir-lock-line", after=0.4)
    return s.off("weir-down-throat", after=3.0).wait(12.0)


SCENES = {
    "wrong-direction": wrong_direction,
    "near-wrong-direction": near_wrong_direction,
}
