"""Whether trains may go: at a crossing, at their work, and where something is to be looked at first."""

from __future__ import annotations

from ..scene import Scene
from . import heron, oxlip

KEPT = "advice: kept"


def at_a_crossing() -> Scene:
    """p1 waits at Marrowby for g1, which is to go on with the token that p1 has brought."""
    s = Scene(
        "p1 waits at Marrowby for g1 from Thistlecombe, and may go once that has come in complete.", KEPT, begin="19:02"
    )
    s = oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(oxlip.passenger_to_marrow(s), after=4.0))
    return oxlip.passenger_comes_to_thistle(oxlip.passenger_leaves_marrow(s))


def look_first() -> Scene:
    """Marrowby's board is silent as g1 is to leave Thistlecombe: nobody knows whether the section is clear."""
    s = Scene(
        "g1 is to leave Thistlecombe at 19:02. Marrowby's board, which watches the section, is silent from 19:01 on,",
        "and heard again a minute later.",
        KEPT,
    )
    s.wait(2.0).silence("marrow")
    return s.wait(25.0).speak("marrow").wait(5.0)


def bridge_is_open() -> Scene:
    """The swing bridge is open as d1 is to leave Lockside for the Basin, and closed for it."""
    s = Scene(
        "d1 is to leave Lockside at 09:14 over the swing bridge, which is open for a boat, and waits until it is proved",
        "closed and locked.",
        KEPT,
        folder="canal",
        begin="09:01",
    )
    s = heron.lift_from_maltings(heron.goods_to_lock(s).off("canal-bridge", after=4.0))
    s = heron.passenger_to_lock(s, after=5.0, way=20.0)
    return heron.goods_leaves_lock(s.on("canal-bridge", after=70.0), after=4.0)


SCENES = {
    "may-go-at-a-crossing": at_a_crossing,
    "may-go-look-first": look_first,
    "may-go-once-the-bridge-is-closed": bridge_is_open,
}
