"""Scenes of the Fernlow Line, on which trains cross at two small stations: what is foreseen of trains that run late."""

from __future__ import annotations

from ..scene import Scene
from . import heron

G2 = ("e3", "w2", "b2")
P1 = ("e2", "c1")


def _on_line(*story: str) -> Scene:
    return Scene(*story, folder="loops", begin="19:04")


def _g2_leaves(s: Scene, after: float) -> Scene:
    return heron.goes_out(s, "rush", "platform", "down", "rush-fern", *G2, after=after)


def _g2_comes(s: Scene) -> Scene:
    return heron.comes_in(s, "fern", "loop", "up", "rush-fern", *G2, after=60.0)


def _p1_leaves(s: Scene, after: float) -> Scene:
    return heron.goes_out(s, "fern", "platform", "up", "rush-fern", *P1, after=after)


def _p1_comes(s: Scene) -> Scene:
    return heron.comes_in(s, "rush", "platform", "down", "rush-fern", *P1, after=50.0)


def will_meet() -> Scene:
    """g2 leaves four minutes late, and will be in the section still at p1's time."""
    s = _on_line(
        "g2 leaves Rushbourne four minutes late. It will be on the line still when p1 is to leave Fernlow against it, and",
        "nothing in the timetable tells p1 to wait. p1 is held until g2 has come in.",
    )
    return _p1_comes(_p1_leaves(_g2_comes(_g2_leaves(s, 75.0)), 6.0))


def will_not_meet() -> Scene:
    """g2 leaves a minute late, and is in before p1's time."""
    s = _on_line("g2 leaves Rushbourne a minute late, and is in at Fernlow before p1 is to leave against it.")
    return _p1_comes(_p1_leaves(_g2_comes(_g2_leaves(s, 27.0)), 30.0))


def shut_in() -> Scene:
    """p1 comes towards a station of which both roads are taken by trains that wait for it."""
    s = _on_line(
        "g2 stands at Rushbourne with a hot box. p1 leaves Fernlow at its time all the same: both roads at Rushbourne are",
        "taken, by g2 and by g1, and both wait for p1. It sets back to Fernlow in the end.",
    )
    s = _p1_leaves(s, 122.0).wait(20.0)
    s.on("fern-up-throat", after=4.0).read("rush-fern-at-fern", "c1", after=1.0).read("rush-fern-at-fern", "e2")
    return s.on("fern-platform", after=0.3).off("rush-fern-line").off("fern-up-throat", after=2.0).wait(6.0)


def room_is_made() -> Scene:
    """Both roads at Rushbourne are taken, p1 waits for g2 and g1 for p1; g2 goes, and all are on their way."""
    s = _on_line(
        "At Rushbourne both roads are taken. p1 waits at Fernlow for g2, and g1 behind it for p1; g2 is ready half a minute",
        "late, and makes room.",
    )
    s = _p1_comes(_p1_leaves(_g2_comes(_g2_leaves(s, 20.0)), 38.0))
    return heron.goes_out(s, "rush", "loop", "down", "rush-fern", "e1", "w1", "b1", after=45.0)


SCENES = {
    "clash-ahead": will_meet,
    "near-clash-ahead": will_not_meet,
    "deadlock": shut_in,
    "near-deadlock": room_is_made,
}
