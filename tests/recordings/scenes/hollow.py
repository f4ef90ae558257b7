"""Scenes of Hollow Mill, where little is detected and the crew tells what it does."""

from __future__ import annotations

from ..scene import Scene


def _leaves_sedge(s: Scene) -> Scene:
    return s.read("sedge-limit", "e5", after=75.0).read("sedge-limit", "v1", "b5", after=1.5)


def _comes_to_hollow(s: Scene) -> Scene:
    return s.read("hollow-limit", "e5", after=30.0).read("hollow-limit", "v1", "b5", after=1.5)


def overfull_road_foretold() -> Scene:
    """Hollow Mill's shed will be too full by one van; due once h1 is on its way."""
    s = Scene(
        "The plan takes van v1 to the shed at Hollow Mill, where v2 stands: 320 mm on 300 mm. A note as the session begins,",
        "a caution once h1 is on its way there, and at last the thing itself: v1 is set down in the shed all the same.",
        folder="hollow",
        begin="20:57",
    )
    s = _comes_to_hollow(_leaves_sedge(s)).say("arrive h1 hollow.platform", after=2.0)
    return s.say("sets-out h1 v1 hollow.shed", after=20.0).wait(6.0)


SCENES = {"overfull-road-foretold": overfull_road_foretold}
