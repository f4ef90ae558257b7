"""Scenes of the Fell Branch: a staff and its tickets, treadles instead of readers, a run round at the end of the line."""

from __future__ import annotations

from ..scene import Scene


def _on_branch(*story: str, begin: str = "20:01") -> Scene:
    return Scene(*story, folder="branch", begin=begin)


def leaves_fell(s: Scene, road: str, after: float = 4.0) -> Scene:
    """A train goes out of Fellgate, its tail over the treadle."""
    s.on("fell-down-throat", after=after).tread("fell-out", after=3.0).off(f"fell-{road}", after=1.5)
    return s.tread("fell-tail", after=1.5).off("fell-down-throat", after=1.0)


def comes_to_quarry(s: Scene, road: str, tail: bool = True, after: float = 15.0) -> Scene:
    """A train comes in at Quarry Head on a road."""
    s.on("quarry-up-throat", after=after).tread("quarry-in", after=0.1).on(f"quarry-{road}", after=2.0)
    if tail:
        s.tread("quarry-tail", after=1.0)
    return s.off("quarry-up-throat", after=2.5).wait(4.0)


def staff_and_ticket() -> Scene:
    """q1 goes on a ticket, q2 follows with the staff."""
    s = _on_branch(
        "Two trains go the same way: q1 on a ticket, shown the staff, and once it is in, q2 with the staff, which then lies",
        "at Quarry Head.",
    )
    s = comes_to_quarry(leaves_fell(s.say("give fell-quarry q1 ticket", after=8.0), "main"), "loop")
    s.wait(60.0).off("fell-staff", after=4.0).wait(2.0)
    return comes_to_quarry(leaves_fell(s, "loop"), "main").lay("quarry-staff", after=4.0).wait(3.0)


def far_end_refused() -> Scene:
    """With the staff at Fellgate nothing may be sent from Quarry Head."""
    s = _on_branch("q1 has gone to Quarry Head on a ticket; the staff lies at Fellgate: a ticket back is refused.")
    s = comes_to_quarry(leaves_fell(s.say("give fell-quarry q1 ticket", after=8.0), "main"), "loop")
    return s.say("give fell-quarry q1 ticket", after=4.0).wait(3.0)


def cleared_incomplete() -> Scene:
    """The tail treadle at Quarry Head misses the brake van: cleared without proof."""
    s = _on_branch(
        "The magnet has fallen off b2: no tail treadle sees q1 out at Fellgate or in at Quarry Head. Cleared, not complete."
    )
    s.off("fell-staff", after=8.0).wait(2.0)
    s.on("fell-down-throat", after=4.0).tread("fell-out", after=3.0).off("fell-main", after=1.5)
    s.off("fell-down-throat", after=2.5)
    return comes_to_quarry(s, "loop", tail=False).wait(40.0)


def run_round() -> Scene:
    """t1 set out, run round at the end of the line, back with the staff."""
    s = _on_branch(
        "At Quarry Head q1 sets out t1 in the tip; then, at the end of the line, its engine runs round by the main road",
        "before it can lead b2 back to Fellgate, with the staff.",
    )
    s = comes_to_quarry(leaves_fell(s.off("fell-staff", after=8.0).wait(2.0), "main"), "loop").lay("quarry-staff", after=2.0)
    s.on("quarry-down-throat", after=4.0).read("quarry-tip-reader", "t1", after=3.0)
    s.off("quarry-down-throat", after=6.0).wait(4.0)
    s.on("quarry-down-throat", after=4.0).on("quarry-main", after=3.0).off("quarry-down-throat", after=1.5)
    s.on("quarry-up-throat", after=5.0).off("quarry-main", after=1.5).off("quarry-up-throat", after=4.0)
    s.off("quarry-staff", after=8.0).wait(2.0)
    s.on("quarry-up-throat", after=4.0).tread("quarry-in", after=3.0).off("quarry-loop", after=1.0)
    s.tread("quarry-tail", after=0.5).off("quarry-up-throat", after=1.0)
    s.on("fell-down-throat", after=15.0).tread("fell-out", after=0.1).on("fell-main", after=2.0)
    s.tread("fell-tail", after=0.4).off("fell-down-throat", after=2.5).lay("fell-staff", after=4.0)
    return s.wait(12.0)


def lift_left_for_later() -> Scene:
    """q1 leaves Fellgate without t4, which it may still lift at its second call."""
    s = _on_branch("q1 leaves Fellgate without t4: it calls there once more, and may lift it then.")
    return leaves_fell(s.off("fell-staff", after=8.0).wait(2.0), "main").wait(25.0)


def tip_just_full() -> Scene:
    """t1 makes the tip full to the millimetre: 270 of 270 mm."""
    s = _on_branch(
        "The plan takes t1 to the tip at Quarry Head, where t2 and t3 stand: 270 mm on 270 mm, and not one too many."
    )
    s = comes_to_quarry(leaves_fell(s.off("fell-staff", after=8.0).wait(2.0), "main"), "loop")
    s.on("quarry-down-throat", after=4.0).read("quarry-tip-reader", "t1", after=3.0)
    return s.off("quarry-down-throat", after=6.0).wait(12.0)


SCENES = {
    "staff-and-ticket": staff_and_ticket,
    "ticket-refused-at-the-far-end": far_end_refused,
    "cleared-incomplete": cleared_incomplete,
    "run-round": run_round,
    "near-lift-missed": lift_left_for_later,
    "near-overfull-road-foretold": tip_just_full,
}
