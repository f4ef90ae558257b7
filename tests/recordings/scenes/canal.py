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


def near_early_departure_engine_alone() -> Scene:
    """d1's engine goes out of Lockside alone, long before its time, and comes back to its train."""
    s = _on_canal(
        "d1's engine draws out of Lockside alone at 09:06, right into the section, to make room; its wagons stay in the",
        "loop, and in a quarter of a minute it is back with them. d1 has not left.",
        begin="09:01",
    )
    s = heron.goods_to_lock(s)
    s.on("lock-down-throat", after=5.0).on("lock-basin-line", after=3.0).read("lock-basin-at-lock", "e1", after=0.2)
    s.off("lock-down-throat", after=2.5).wait(12.0)
    s.on("lock-down-throat").read("lock-basin-at-lock", "e1", after=0.2).off("lock-basin-line", after=0.6)
    return s.off("lock-down-throat", after=4.0).wait(25.0)


def early_departure_meets_another() -> Scene:
    """d1 leaves Lockside while u1 is on its way there: the clash is the cause, and all else folds under it."""
    s = _on_canal(
        "u1 is on its way from Heron Basin to Lockside, where d1 is to wait for it until 09:14; d1 goes out, and two trains",
        "are in one section.",
        begin="09:01",
    )
    s = heron.passenger_leaves_basin(heron.goods_ready_at_lock(s), after=5.0)
    return heron.goods_leaves_lock(s, after=1.0).wait(6.0)


def _crossed_at_lock(s: Scene) -> Scene:
    """d1 has done its work at Lockside, and u1 has come in there."""
    return heron.passenger_to_lock(heron.goods_ready_at_lock(s), after=5.0, way=20.0)


def not_proved() -> Scene:
    """The bridge has been opened for a boat, and d1 leaves for it."""
    s = _on_canal(
        "The canal bridge has been swung for a boat while d1 waited at Lockside; at its time d1 draws out of the loop and",
        "goes, with the bridge open still. It is told of once all of it has left its road; under way the bridge is closed.",
        begin="09:01",
    )
    s = _crossed_at_lock(s).off("canal-bridge", after=20.0)
    s.on("lock-down-throat", after=33.0).off("lock-loop", after=2.0).on("lock-basin-line", after=3.0)
    s.read("lock-basin-at-lock", *heron.WITH_LIFTED, after=0.6).off("lock-down-throat", after=1.0)
    return s.on("canal-bridge", after=4.0).wait(6.0)


def not_proved_under_a_train() -> Scene:
    """The bridge is unlocked while d1 is on its way."""
    s = _on_canal(
        "d1 is on its way from Lockside to Heron Basin when somebody unlocks the canal bridge, and locks it again.",
        begin="09:01",
    )
    s = heron.goods_leaves_lock(_crossed_at_lock(s), after=53.0)
    return s.off("canal-bridge", after=4.0).on("canal-bridge", after=3.0).wait(6.0)


def near_not_proved() -> Scene:
    """The bridge is open while d1 shunts and waits, and closed before it goes; and is opened again behind it."""
    s = _on_canal(
        "The canal bridge is open while d1 shunts in the throat before it, and waits; it is closed before d1 leaves, and",
        "opened again once d1 has come in at Heron Basin.",
        begin="09:01",
    )
    s = heron.lift_from_maltings(heron.goods_to_lock(s).off("canal-bridge", after=4.0)).wait(12.0).on("canal-bridge")
    s = heron.passenger_to_lock(s, after=5.0, way=20.0)
    s = heron.goods_comes_to_basin(heron.goods_leaves_lock(s, after=40.0))
    return s.off("canal-bridge", after=5.0).wait(6.0)


def bridge_board_lost_under_a_train() -> Scene:
    """The bridge's board falls silent while d1 is on its way: what it proved is unknown, and that follows from its loss."""
    s = _on_canal(
        "The bridge's board falls silent while d1 is on its way over it: its proof is unknown, which follows from that",
        "loss; then it is back, and the bridge is proved.",
        begin="09:01",
    )
    s = heron.goods_leaves_lock(_crossed_at_lock(s), after=53.0).silence("bridge").wait(9.0)
    return s.speak("bridge").wait(6.0)


def overdue() -> Scene:
    """d1 has stopped on the way to Lockside, and comes at last."""
    s = _on_canal(
        "d1 has four minutes to Lockside and takes nearly seven: it is overdue after six, and no more once it comes in.",
        begin="09:01",
    )
    return heron.comes_in(heron.goods_leaves_weir(s), "lock", "loop", "up", "weir-lock", *heron.GOODS, after=95.0)


def near_overdue() -> Scene:
    """d1 takes long, but not half as long again as booked, for the clock has stood in between."""
    s = _on_canal(
        "d1 has four minutes to Lockside and takes a little over five by the session clock, which has been stopped for a",
        "quarter of a minute: by everybody's watch it is nearly seven.",
        begin="09:01",
    )
    s = heron.goods_leaves_weir(s).say("stop-clock", after=20.0).say("go-on", after=20.0)
    return heron.comes_in(s, "lock", "loop", "up", "weir-lock", *heron.GOODS, after=56.0)


def road_blocked() -> Scene:
    """w3 stands on Lockside's platform as u1 sets off for there."""
    s = _on_canal(
        "d1's crew has left w3 on the platform at Lockside, and goes to have its tea; more than a minute later u1 sets",
        "off for that platform. Told of it they fetch w3 away, and u1 comes in.",
        begin="09:04",
    )
    s = heron.passenger_leaves_basin(heron.puts_on_platform(heron.goods_to_lock(s, after=3.0)), after=80.0)
    s = heron.takes_from_platform(s.wait(4.0))
    return heron.comes_in(s, "lock", "platform", "down", "lock-basin", *heron.PASSENGER, after=6.0)


def near_road_blocked() -> Scene:
    """w3 stands on Lockside's platform for a while as u1 is on its way, and is gone before a minute is over."""
    s = _on_canal(
        "d1's crew leaves w3 on the platform at Lockside in the course of its shunting while u1 is on its way there, and",
        "fetches it away half a minute later.",
        begin="09:04",
    )
    s = heron.passenger_leaves_basin(heron.goods_to_lock(s, after=3.0), after=20.0)
    s = heron.takes_from_platform(heron.puts_on_platform(s).wait(5.0))
    return heron.comes_in(s, "lock", "platform", "down", "lock-basin", *heron.PASSENGER, after=6.0)


SCENES = {
    "road-blocked": road_blocked,
    "near-road-blocked": near_road_blocked,
    "overdue": overdue,
    "near-overdue": near_overdue,
    "not-proved": not_proved,
    "not-proved-under-a-train": not_proved_under_a_train,
    "near-not-proved": near_not_proved,
    "board-lost-under-a-train": bridge_board_lost_under_a_train,
    "early-departure": early_departure,
    "early-departure-before-the-crossing": early_departure_before_the_crossing,
    "near-early-departure": near_early_departure,
    "near-early-departure-engine-alone": near_early_departure_engine_alone,
    "section-clash-left-too-early": early_departure_meets_another,
    "wrong-direction": wrong_direction,
    "near-wrong-direction": near_wrong_direction,
}
