"""Scenes of what is left on the line: trains that part on their way, and trains that only seem to."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip
from .branch import comes_to_quarry, leaves_fell


def divided() -> Scene:
    """g1 loses its brake van on the way to Marrowby, and goes back for it."""
    s = oxlip.goods_leaves_thistle(
        Scene(
            "The coupling behind w2 parts on the way: g1 comes in at Marrowby without its brake van b1, and section",
            "thistle-marrow stays occupied. Half a minute later the crew goes back for it, and comes in complete.",
        )
    )
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).off("marrow-up-throat", after=2.5).wait(30.0)
    s.on("marrow-up-throat", after=3.0).read("marrow-up-limit", "w2", after=2.0).read("marrow-up-limit", "w1", "e1")
    s.off("marrow-loop", after=0.5).off("marrow-up-throat", after=1.5)
    s.on("marrow-up-throat", after=14.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).read("marrow-up-limit", "b1", after=0.7)
    return s.off("thistle-marrow-line", after=0.5).off("marrow-up-throat", after=2.5).wait(12.0)


def divided_by_its_tail() -> Scene:
    """q2 loses its brake van in a section without a track detector: the treadle that told of q1's is silent."""
    s = Scene(
        "q1 comes in at Quarry Head, and the tail treadle there tells of its brake van. q2 follows and comes in without its",
        "own, b3: the treadle stays silent. Somebody looks, finds that b3 stands on the line, and it is fetched by hand.",
        folder="branch",
        begin="20:01",
    )
    s = comes_to_quarry(leaves_fell(s.say("give fell-quarry q1 ticket", after=8.0), "main"), "loop")
    s.wait(60.0).off("fell-staff", after=4.0).wait(2.0)
    s = comes_to_quarry(leaves_fell(s, "loop"), "main", tail=False).wait(30.0)
    return s.say("stands b3 off").say("return fell-quarry q2", after=4.0).wait(6.0)


def met_what_was_left() -> Scene:
    """p1 goes into the section where g1 has left its brake van."""
    s = Scene(
        "p1 waits at Marrowby for g1, which comes in without its brake van; p1's crew does not look, and goes out towards",
        "Thistlecombe, against the van.",
        begin="19:02",
    )
    s = oxlip.goods_leaves_thistle(oxlip.passenger_to_marrow(s), after=4.0)
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).off("marrow-up-throat", after=2.5).wait(20.0)
    s.on("marrow-up-throat", after=3.0).off("marrow-platform", after=1.5).read("marrow-up-limit", "e2", after=1.5)
    return oxlip.passes_coach(s.off("marrow-up-throat", after=1.0), "marrow-up-limit").wait(5.0)


def stands_across() -> Scene:
    """g1 stops at Marrowby with its brake van still in the section, for 20 s, and then draws in."""
    s = oxlip.goods_leaves_thistle(
        Scene(
            "g1 comes in at Marrowby and is stopped as its engine is at the loop, its brake van still in the section: it",
            "stands across the section end for 20 s, and then draws in complete.",
        )
    )
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).wait(20.0).read("marrow-up-limit", "b1", after=0.7)
    return s.off("thistle-marrow-line", after=0.5).off("marrow-up-throat", after=2.5).wait(12.0)


def _rolls_out_of_tip(s: Scene) -> Scene:
    """w8 rolls out of the tip at Marrowby, over the throat, into the section to Oxlip Quay."""
    s.read("marrow-tip-reader", "w8", after=25.0).on("marrow-down-throat", after=0.2)
    s.on("marrow-oxlip-line", after=3.0).read("marrow-down-limit", "w8", after=0.2)
    return s.off("marrow-down-throat", after=1.0)


def runs_away() -> Scene:
    """w8 rolls away from Marrowby towards Oxlip Quay, where no engine is near."""
    s = _rolls_out_of_tip(
        Scene(
            "Nobody is at Marrowby when the brake of w8 in the tip lets go: it rolls out, and down the line towards Oxlip",
            "Quay. It is found halfway, and taken off the track by hand.",
        )
    )
    return s.say("stands w8 off", after=20.0).off("marrow-oxlip-line", after=1.0).wait(8.0)


def met_what_ran_away() -> Scene:
    """p1 leaves Oxlip Quay, with the token, against w8."""
    s = oxlip.token_to_oxlip(
        Scene(
            "w8 rolls away from Marrowby, and p1 leaves Oxlip Quay against it, with the token for that section.",
            begin="19:02",
        )
    )
    s = _rolls_out_of_tip(s.off("oxlip-token", after=4.0).wait(2.0))
    s.on("oxlip-up-throat", after=5.0).off("oxlip-platform", after=1.5).read("oxlip-limit", "e2", after=1.5)
    return oxlip.passes_coach(s.off("oxlip-up-throat", after=1.0), "oxlip-limit").wait(5.0)


def blinks() -> Scene:
    """The detector of a section says occupied for a moment."""
    s = Scene("The detector of the section to Oxlip Quay blinks twice for less than half a second: a finger on the rails.")
    s.on("marrow-oxlip-line", after=25.0).off("marrow-oxlip-line", after=0.3)
    return s.on("marrow-oxlip-line", after=0.3).off("marrow-oxlip-line", after=0.3).wait(12.0)


def light_engine() -> Scene:
    """e2, uncoupled and unread, draws out past Oxlip Quay's limit and comes back: that is no runaway."""
    s = Scene("e2 leaves its coach and draws out past Oxlip Quay's limit, where the reader misses it, and sets back.")
    s.off("marrow-token", after=2.0).lay("oxlip-token", after=8.0).off("oxlip-token", after=4.0)
    s.on("oxlip-up-throat", after=12.0).off("oxlip-platform", after=1.5).on("marrow-oxlip-line", after=3.0)
    s.off("oxlip-up-throat", after=1.5).on("oxlip-up-throat", after=6.0).off("marrow-oxlip-line", after=1.5)
    return s.on("oxlip-platform", after=1.0).off("oxlip-up-throat", after=1.5).wait(12.0)


def takes_along() -> Scene:
    """g1 takes w8 along from the tip at Marrowby, which nothing names."""
    s = oxlip.goods_at_marrow(
        "At Marrowby g1 lifts w4 and sets out w1, as booked; then its crew takes w8 along from the tip, though no move and",
        "no rake names it.",
    )
    s = _works_in_tip(oxlip.set_out_in(oxlip.lift_from_mill(s), "mill", "w1"))
    s.read("marrow-tip-reader", "w8", after=1.0).off("marrow-down-throat", after=6.0).wait(4.0)
    s = oxlip.goods_leaves_marrow(oxlip.goods_takes_token(s), "e1", "w8", "w4", "w2", "b1")
    return s.wait(12.0)


def looks_into_tip() -> Scene:
    """e1 looks into the tip at Marrowby, and comes out as it went in."""
    s = _works_in_tip(
        oxlip.goods_at_marrow("e1 goes into the tip at Marrowby, leaves all as it stands, and comes out alone.")
    )
    s.off("marrow-down-throat", after=6.0).wait(4.0)
    return oxlip.set_out_in(s, "mill", "w1").wait(12.0)


def _works_in_tip(s: Scene) -> Scene:
    """e1 goes into the tip, and comes out again."""
    s.on("marrow-down-throat", after=4.0).read("marrow-tip-reader", "e1", after=3.0).off("marrow-down-throat", after=1.5)
    return s.on("marrow-down-throat", after=6.0).read("marrow-tip-reader", "e1", after=0.2)


def by_hand() -> Scene:
    """w5, booked nowhere, has been carried from the quay at Oxlip to the tip, and is read there."""
    s = oxlip.goods_at_marrow(
        "Somebody has carried w5 from the quay at Oxlip to the tip at Marrowby, where e1 draws it out: no engine",
        "has been on the quay.",
    )
    s = _works_in_tip(s).read("marrow-tip-reader", "w5", after=1.0)
    s.off("marrow-down-throat", after=6.0).wait(9.0)
    s.on("marrow-down-throat", after=4.0).read("marrow-tip-reader", "w5", after=3.0)
    return s.off("marrow-down-throat", after=6.0).wait(9.0)


SCENES = {
    "wagon-unbooked": takes_along,
    "wagon-unbooked-by-hand": by_hand,
    "near-wagon-unbooked": looks_into_tip,
    "unexplained-occupation": runs_away,
    "section-clash-with-what-ran-away": met_what_ran_away,
    "near-unexplained-occupation": blinks,
    "near-unexplained-occupation-light-engine": light_engine,
    "train-divided": divided,
    "train-divided-tail-silent": divided_by_its_tail,
    "section-clash-with-what-was-left": met_what_was_left,
    "near-train-divided": stands_across,
}
