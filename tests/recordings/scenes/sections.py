"""Scenes of the single line: who is in a section, and with whose leave."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def section_clash() -> Scene:
    """p1 leaves Marrowby for Thistlecombe while g1 is on its way from there."""
    s = Scene(
        "p1 waits at Marrowby for g1, which comes from Thistlecombe; its driver takes the wrong signal for his own",
        "and p1 goes out towards Thistlecombe: two trains in section thistle-marrow.",
        begin="19:02",
    )
    s = oxlip.goods_leaves_thistle(oxlip.passenger_to_marrow(s), after=4.0)
    return oxlip.passenger_leaves_marrow(s, after=5.0).wait(5.0)


def near_section_clash() -> Scene:
    """p1 leaves Marrowby as soon as g1 has come in complete."""
    s = Scene("p1 waits at Marrowby for g1 from Thistlecombe, and leaves once g1 has come in complete.", begin="19:02")
    s = oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(oxlip.passenger_to_marrow(s), after=4.0))
    return oxlip.passenger_comes_to_thistle(oxlip.passenger_leaves_marrow(s))


def no_authority() -> Scene:
    """p1 leaves Oxlip Quay while the token lies at Marrowby."""
    s = Scene("p1 leaves Oxlip Quay for Marrowby while the token of the section lies at Marrowby.", begin="19:02")
    return oxlip.passenger_leaves_oxlip(s, after=10.0).wait(5.0)


def near_no_authority() -> Scene:
    """The token is carried to Oxlip Quay and lifted there before p1 leaves."""
    s = Scene(
        "The token is carried over to Oxlip Quay; p1's crew lifts it there, runs to Marrowby and lays it down.",
        begin="19:02",
    )
    return oxlip.passenger_to_marrow(s)


def token_by_word() -> Scene:
    """An operator gives the token: to p1, then to g1, which is refused while p1 has it, and at last when it is back."""
    s = Scene(
        "The token is told by word: given to p1; refused to g1 while p1 has it; returned when p1 is in at Marrowby,",
        "and then given to g1.",
        begin="19:02",
    )
    s.say("give marrow-oxlip p1", after=8.0)
    s = oxlip.goods_leaves_thistle(oxlip.passenger_leaves_oxlip(s), after=1.0).say("give marrow-oxlip g1", after=1.0)
    s = oxlip.goods_comes_to_marrow(oxlip.passenger_comes_to_marrow(s)).say("return marrow-oxlip p1", after=1.0)
    return s.say("give marrow-oxlip g1", after=2.0).wait(2.0)


def coach_behind() -> Scene:
    """The section's detector is clear although the coach, which works none, is still in it: cleared only by its tag."""
    s = Scene(
        "p1 comes in at Marrowby: its engine is out of the section, whose detector says clear, while coach c1, which works",
        "no detector, stands in it still. The section is clear only when c1's last tag has passed.",
        begin="19:02",
    )
    oxlip.token_to_oxlip(s).off("oxlip-token", after=4.0).wait(2.0)
    s = oxlip.passenger_leaves_oxlip(s)
    s.on("marrow-down-throat", after=9.0).read("marrow-down-limit", "e2", after=0.2).off("marrow-oxlip-line", after=0.6)
    s.wait(8.0)
    s = oxlip.passes_coach(s, "marrow-down-limit")
    return s.on("marrow-platform", after=0.5).off("marrow-down-throat", after=1.5).wait(10.0)


SCENES = {
    "section-clash": section_clash,
    "near-section-clash": near_section_clash,
    "no-authority": no_authority,
    "near-no-authority": near_no_authority,
    "token-by-word": token_by_word,
    "coach-that-works-no-detector": coach_behind,
}
