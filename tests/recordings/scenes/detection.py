"""Scenes of what is wrong with the detection itself, or only seems to be: boards, numbers, tags."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip

STRANGE = "04AFFFFF01"


def board_lost() -> Scene:
    """Marrowby's board falls silent for 20 s while g1 is on its way, and is heard again."""
    s = oxlip.goods_leaves_thistle(
        Scene("The board at Marrowby falls silent while g1 is on its way there; it is back in time.")
    )
    s.silence("marrow").wait(20.0).speak("marrow")
    return oxlip.goods_comes_to_marrow(s)


def near_board_lost() -> Scene:
    """Marrowby's board is silent for 5.5 s."""
    s = oxlip.goods_leaves_thistle(
        Scene("The board at Marrowby is silent for some 5 s, as a bad cable makes it, and goes on.")
    )
    s.wait(2.0 - (s.t - 2.0) % 2.0 + 0.05).silence("marrow").wait(3.9)
    s.silent.discard("marrow")
    return oxlip.goods_comes_to_marrow(s)


def board_never_heard() -> Scene:
    """Oxlip Quay's board has not been switched on when the session begins."""
    s = Scene(
        "Nobody has switched on the board at Oxlip Quay: it is missed 6 s after the session has begun, then greets.",
        begin=None,
    )
    s.lines = [line for line in s.lines if "oxlip" not in line]
    s.seq["oxlip"] = 0
    return s.silence("oxlip").say("begin 19:01").wait(12.0).speak("oxlip").wait(4.0)


def reports_lost() -> Scene:
    """Two reads at Thistlecombe's limit are lost and never sent again."""
    s = Scene(
        "Two reports of the board at Thistlecombe are lost as g1 goes out, and are never sent again; at last the board says",
        "how all its inputs stand, and nothing is open any more.",
    )
    s.on("thistle-down-throat", after=13.0).on("thistle-marrow-line", after=3.0).read("thistle-limit", "e1", after=0.2)
    s.read("thistle-limit", "w1", "w2", lost=True).off("thistle-loop", after=0.3).read("thistle-limit", "b1", after=0.7)
    return s.off("thistle-down-throat", after=1.0).wait(12.0).tell_states("thistle").wait(4.0)


def near_reports_lost() -> Scene:
    """The same two reads come 3 s late, sent again as asked."""
    s = Scene(
        "Two reports of the board at Thistlecombe are lost as g1 goes out, and sent again 3 s later, with their own times."
    )
    s.on("thistle-down-throat", after=13.0).on("thistle-marrow-line", after=3.0).read("thistle-limit", "e1", after=0.2)
    s.read("thistle-limit", "w1", "w2", lost=True).off("thistle-loop", after=0.3).read("thistle-limit", "b1", after=0.7)
    return s.off("thistle-down-throat", after=1.0).send_again("thistle", after=1.0).wait(12.0)


def tag_unknown() -> Scene:
    """A tag of no vehicle is read twice in the mill, then somebody tells whose it is."""
    s = Scene(
        "Somebody holds w3's new second tag over the mill's reader, twice: no vehicle carries it. Then it is told whose."
    )
    s.read("marrow-mill-reader", STRANGE, after=5.0).read("marrow-mill-reader", STRANGE, after=6.0)
    return s.say(f"tag {STRANGE} w3", after=10.0).wait(3.0)


def near_tag_unknown() -> Scene:
    """A tag of no vehicle is read once, and once more 15 s later."""
    s = Scene("A reader misreads once, and 15 s later once more the same: too rarely to be a tag that is there.")
    return s.read("marrow-mill-reader", STRANGE, after=5.0).read("marrow-mill-reader", STRANGE, after=15.0).wait(3.0)


def two_tags() -> Scene:
    """c1 carries a tag at each end: one passage, whichever is read."""
    s = Scene(
        "Coach c1 carries a tag at each end. At Oxlip Quay both are read, at Marrowby the first is missed.", begin="19:02"
    )
    oxlip.token_to_oxlip(s).off("oxlip-token", after=4.0).wait(2.0)
    s = oxlip.passenger_leaves_oxlip(s)
    s.on("marrow-down-throat", after=9.0).read("marrow-down-limit", "e2", after=0.2).off("marrow-oxlip-line", after=0.6)
    s.read("marrow-down-limit", "04A1000032", after=1.5)
    return s.on("marrow-platform", after=0.5).off("marrow-down-throat", after=1.5).wait(10.0)


def standing_tag() -> Scene:
    """w1 stands on the mill's reader, which loses and finds its tag again and again."""
    s = oxlip.goods_at_marrow(
        "g1 pushes w1 into the mill and stops with its tag on the reader, which reads it again and again."
    )
    s.on("marrow-down-throat", after=4.0).read("marrow-mill-reader", "w1", after=3.0)
    s.read("marrow-mill-reader", *["w1"] * 4, after=0.8)
    return s.off("marrow-down-throat", after=2.5).wait(10.0)


def standing_tag_for_minutes() -> Scene:
    """w1 stands at the edge of the field of the mill's reader, which finds its tag every few seconds."""
    s = oxlip.goods_at_marrow(
        "g1 pushes w1 into the mill and stops with its tag at the edge of the reader's field, which finds it again every",
        "few seconds for two minutes. Then e1 goes back to its train in the loop, and w1 stands in the mill.",
    )
    s.on("marrow-down-throat", after=4.0).read("marrow-mill-reader", "w1", after=3.0)
    for pause in (2.5, 4.0, 3.0, 6.0, 2.5) * 7:
        s.read("marrow-mill-reader", "w1", after=pause)
    return s.off("marrow-down-throat", after=2.5).wait(30.0)


def muted() -> Scene:
    """The detector of the section is muted: it counts as unknown, so that authority rests on weak evidence."""
    s = Scene(
        "The detector of section thistle-marrow flickers, and is muted: it counts as unknown. g1 goes out on weak evidence,",
        "and the section is clear by the tag of its last vehicle; then the detector counts again.",
    )
    s.on("thistle-marrow-line", after=2.0).off("thistle-marrow-line", after=0.3).say("mute thistle-marrow-line", after=3.0)
    s = oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(s, after=6.0))
    return s.say("unmute thistle-marrow-line", after=4.0).wait(3.0)


SCENES = {
    "board-lost": board_lost,
    "near-board-lost": near_board_lost,
    "board-lost-never-heard": board_never_heard,
    "reports-lost": reports_lost,
    "near-reports-lost": near_reports_lost,
    "tag-unknown": tag_unknown,
    "near-tag-unknown": near_tag_unknown,
    "two-tags-on-one-vehicle": two_tags,
    "standing-tag": standing_tag,
    "standing-tag-for-minutes": standing_tag_for_minutes,
    "muted-detector": muted,
}
