"""The likeliest place for what cannot stand in a throat any more."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.choosing import choose_goal
from bridge.core.whereabouts.picture import Picture
from bridge.folder import load

DEMO = Path(__file__).parents[3] / "demo" / "railway"


class Quay(Prior):
    """Only the quay, which is occupied, and the running roads, which are clear, have detectors; e1 is booked to the loop."""

    def stretch_state(self, stretch: str) -> str:
        return {"saltgander.quay": "occupied", "saltgander.loop": "clear", "saltgander.platform": "clear"}.get(stretch, "")

    def reachable(self, boundary: str) -> bool:
        return True

    def call_road(self, engine: str) -> str | None:
        return "saltgander.loop"

    def next_section(self, engine: str) -> str | None:
        return None


@pytest.mark.parametrize(("last", "before"), [("icehouse", "quay"), ("quay", "icehouse")])
def test_an_engine_whose_own_tag_was_not_read_stands_behind_what_it_has_pushed_last(last: str, before: str) -> None:
    """It hangs half out of a siding, in the throat; what it left on another siding before stays there."""
    railway = load(DEMO).railway
    assert railway is not None
    picture = Picture(railway.plant, railway.stock)
    for t, (vehicle, road) in enumerate((("w04", before), ("w05", before), ("w06", last), ("b1", last))):
        picture.couple(vehicle, "e1")
        picture.move(vehicle, f"saltgander.{road}", 0, float(t), t, "seen", "seen")
    picture.lines.put("e1", "saltgander.up", 0)
    picture.came_by["e1"] = "saltgander.quay@up"  # it had been taken to have gone there once
    goal = choose_goal(picture, "saltgander.up", ["e1"], Quay(), False)
    assert goal is not None
    assert goal.outer == f"saltgander.{last}"
