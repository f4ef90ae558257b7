"""A treadle was passed: by one axle, which may be a shaking, and by so many on end that a train has passed."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bridge.core.whereabouts.weighing.treading import TrainPassed, Treading
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Expecting, Explain, plant, set_down, stock

SECTION, LIMIT = "ash-birch", "ash-birch@ash"
YARD = Yard(plant({"ash.main": ("running", "down")}, [("ash.down", "birch.up")]), stock("e1", "w1"))
STANDING = [("w1", "ash.main"), ("e1", "ash.main")]


def out(explanations: Sequence[Explain]) -> float:
    """How likely the engine has gone out."""
    return exactly.places(exactly.chains([set_down(STANDING), *explanations]), "e1").get(SECTION, 0.0)


def test_many_axles_on_end_are_surer_than_one() -> None:
    boundary = YARD.plant.boundaries[LIMIT]
    one = Treading(YARD, Expecting(), boundary, 5.0, sees="any", inward=None).explain
    assert 0.5 < out([one]) < 0.9 < 0.98 < out([one, TrainPassed(boundary, 5.4).explain])


def test_axles_long_after_a_passing_say_nothing_of_that_one() -> None:
    boundary = YARD.plant.boundaries[LIMIT]
    one = Treading(YARD, Expecting(), boundary, 5.0, sees="any", inward=None).explain
    assert out([one, TrainPassed(boundary, 15.0).explain]) == pytest.approx(out([one]))
