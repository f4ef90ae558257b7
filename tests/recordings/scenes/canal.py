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


def early_departure() -> Scene:
    """d1 leaves Lockside minutes before its time, and before u1 has come."""
    s = _on_canal(
        "d1 is to leave Lockside at 09:14, once u1 has come in from Heron Basin. Its work is done at",
        "09:07, its crew thinks of nothing else, and off it goes; u1 stands at Heron Basin still.",
        begin="09:01",
    )
    return heron.goods_leaves_lock(heron.goods_ready_at_lock(s)).wait(6.0)


def early_departure_before_the_crossing() -> Scene:
    """d1 leaves Lockside at its time, and u1 has not come."""
    s = _on_canal(
        "d1 leaves Lockside at its time, 09:14, though u1, for which it is to wait there, is late and has not come.",
        begin="09:01",
    )
    s = heron.goods_ready_at_lock(s)
    return heron.goods_leaves_lock(s, after=95.0).wait(6.0)


def near_early_departure() -> Scene:
    """d1 leaves Lockside some seconds before its time, u1 in."""
    s = _on_canal(
        "d1 leaves Lockside half a minute before its time: less than a minute, and u1 has come in from Heron Basin.",
        begin="09:01",
    )
    s = heron.passenger_to_lock(heron.goods_ready_at_lock(s), after=5.0, way=20.0)
    return heron.goods_leaves_lock(s, after=45.0).wait(6.0)


def early_departure_meets_another() -> Scene:
    """d1 leaves Lockside while u1 is on its way there: the clash is the cause, and all else folds under it."""
    s = _on_canal(
        "u1 is on its way from Heron Basin to Lockside, where d1 is to wait for it until 09:14; d1 goes out, and two trains",
        "are in one section.",
        begin="09:01",
    )
    s = heron.passenger_leaves_basin(heron.goods_ready_at_lock(s), after=5.0)
    return heron.goods_leaves_lock(s, after=1.0).wait(6.0)


SCENES = {
    "early-departure": early_departure,
    "early-departure-before-the-crossing": early_departure_before_the_crossing,
    "near-early-departure": near_early_departure,
    "section-clash-left-too-early": early_departure_meets_another,
    "wrong-direction": wrong_direction,
    "near-wrong-direction": near_wrong_direction,
}
