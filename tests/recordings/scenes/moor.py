"""Scenes of the Moor End Line: trains go out past a reader, and nothing tells that they have come in."""

from __future__ import annotations

from ..scene import Scene


def _leaves(s: Scene, road: str, *rake: str, after: float) -> Scene:
    s.read("cairn-limit", rake[0], after=after).read("cairn-limit", *rake[1:-1], after=1.0)
    return s.off(f"cairn-{road}", after=0.5).read("cairn-limit", rake[-1], after=0.5)


def _one_behind_the_other(s: Scene, after: float) -> Scene:
    s = _leaves(s, "loop", "e6", "w6", "b6", after=15.0)
    return _leaves(s, "platform", "e7", "c7", after=after).wait(25.0)


def follows_too_soon() -> Scene:
    """m2 goes out behind m1 when that has been on its way for three of five minutes."""
    s = Scene(
        "m1 runs to Moor End in five minutes of the clock, and nothing there tells that it has come in. m2 follows it",
        "after three: m1 must be on the line still.",
        folder="moor",
        begin="10:01",
    )
    return _one_behind_the_other(s, 44.0)


def follows_in_time() -> Scene:
    """m2 goes out at its time, when m1 must have come in."""
    s = Scene(
        "m1 runs to Moor End in five minutes of the clock, and nothing there tells that it has come in. m2 follows it",
        "at its time, after six: m1 has come in, as its crew has seen. Nobody has told that; it is no danger.",
        folder="moor",
        begin="10:01",
    )
    return _one_behind_the_other(s, 88.0)


SCENES = {
    "section-clash-where-nothing-tells": follows_too_soon,
    "near-section-clash-where-nothing-tells": follows_in_time,
}
