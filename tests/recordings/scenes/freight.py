"""Scenes of freight: what was to be lifted and set out, and what became of it."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def goods_whole_run() -> Scene:
    """g1 does all that is booked, from Thistlecombe to the quay, and crosses p1 at Marrowby."""
    s = Scene(
        "The whole run of g1, as booked: from Thistlecombe to Marrowby, where p1 from Oxlip Quay crosses it; w4 lifted from",
        "the mill, w1 set out there; with the token to Oxlip Quay, where w4 is set out on the quay.",
    )
    s = oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(s))
    s = oxlip.passenger_leaves_marrow(oxlip.passenger_to_marrow(s))
    s = oxlip.passenger_comes_to_thistle(oxlip.set_out_in(oxlip.lift_from_mill(s), "mill", "w1"))
    s = oxlip.goods_leaves_marrow(oxlip.goods_takes_token(s), "e1", "w4", "w2", "b1")
    s = oxlip.set_out_on_quay(oxlip.goods_comes_to_oxlip(s, "e1", "w4", "w2", "b1"), "w4")
    return s.wait(8.0).say("end")


def set_out_forgotten() -> Scene:
    """w4 is lifted, and g1 leaves with w1, which was to stay in the mill."""
    s = oxlip.goods_at_marrow("At Marrowby g1 lifts w4, and leaves with w1, which was to stay in the mill.")
    s = oxlip.goods_takes_token(oxlip.lift_from_mill(s))
    return oxlip.goods_leaves_marrow(s, "e1", "w4", "w1", "w2", "b1").wait(25.0)


def near_set_out_forgotten() -> Scene:
    """g1 draws out past the limit with w4 and w1, and sets back again: a shunt."""
    s = oxlip.goods_at_marrow("At Marrowby g1 lifts w4, draws out past the limit with it and w1, and sets back: a shunt.")
    s = oxlip.goods_takes_token(oxlip.lift_from_mill(s))
    s.on("marrow-down-throat", after=3.0).on("marrow-oxlip-line", after=3.0)
    s.read("marrow-down-limit", "e1", after=0.2).read("marrow-down-limit", "w4", "w1")
    s.wait(4.0).read("marrow-down-limit", "w1", "w4", "e1").off("marrow-oxlip-line", after=0.3)
    return s.off("marrow-down-throat", after=4.0).wait(12.0)


def lift_missed() -> Scene:
    """w1 is set out in the mill; g1 leaves without w4."""
    s = oxlip.goods_at_marrow("At Marrowby g1 sets out w1 in the mill, and leaves without w4, booked to be lifted there.")
    s = oxlip.goods_takes_token(oxlip.set_out_in(s, "mill", "w1"))
    return oxlip.goods_leaves_marrow(s, "e1", "w2", "b1").wait(25.0)


def wagon_misplaced() -> Scene:
    """w1 is left in the tip; it was to stay in the mill."""
    s = oxlip.goods_at_marrow("At Marrowby g1 lifts w4, and leaves w1 in the tip; the mill was booked.")
    s = oxlip.set_out_in(oxlip.lift_from_mill(s), "tip", "w1")
    return oxlip.goods_leaves_marrow(oxlip.goods_takes_token(s), "e1", "w4", "w2", "b1").wait(25.0)


def near_wagon_misplaced() -> Scene:
    """w1 is left in the tip, then drawn out again and taken to the mill."""
    s = oxlip.goods_at_marrow("At Marrowby g1 lifts w4, leaves w1 in the tip, finds its mistake and takes it to the mill.")
    s = oxlip.set_out_in(oxlip.lift_from_mill(s), "tip", "w1")
    s.on("marrow-down-throat", after=6.0).read("marrow-tip-reader", "w1", after=8.0)
    s.read("marrow-mill-reader", "w1", after=5.0).off("marrow-down-throat", after=6.0).wait(4.0)
    return oxlip.goods_leaves_marrow(oxlip.goods_takes_token(s), "e1", "w4", "w2", "b1").wait(25.0)


def near_wagon_misplaced_drawn_out_unread() -> Scene:
    """w4 is put into the tip for a while, and drawn out of it without being read; it leaves as the last of its train."""
    s = oxlip.goods_at_marrow(
        "At Marrowby g1 lifts w4, puts it into the tip, and draws it out again without its being read; it sets out w1 in",
        "the mill, and leaves with w4 behind the brake van: that is read last, when the rest of the train has gone.",
    )
    s = oxlip.set_out_in(oxlip.lift_from_mill(s), "tip", "w4")
    s.on("marrow-down-throat", after=6.0).off("marrow-down-throat", after=14.0).wait(4.0)
    s = oxlip.goods_takes_token(oxlip.set_out_in(s, "mill", "w1"))
    return oxlip.goods_leaves_marrow(s, "e1", "w2", "b1", "w4").wait(25.0)


def put_back() -> Scene:
    """w4 is drawn out of the mill and put back: neither lifted nor set out."""
    s = oxlip.goods_at_marrow("At Marrowby e1 draws w4 out of the mill, finds that it is the wrong van, and puts it back.")
    s.on("marrow-down-throat", after=4.0).read("marrow-mill-reader", "e1", after=3.0).wait(4.0)
    s.read("marrow-mill-reader", "e1", "w4").wait(4.0).read("marrow-mill-reader", "w4")
    return s.off("marrow-down-throat", after=6.0).wait(12.0)


SCENES = {
    "goods-whole-run": goods_whole_run,
    "set-out-forgotten": set_out_forgotten,
    "near-set-out-forgotten": near_set_out_forgotten,
    "lift-missed": lift_missed,
    "wagon-misplaced": wagon_misplaced,
    "near-wagon-misplaced": near_wagon_misplaced,
    "near-wagon-misplaced-drawn-out-unread": near_wagon_misplaced_drawn_out_unread,
    "put-back": put_back,
}
