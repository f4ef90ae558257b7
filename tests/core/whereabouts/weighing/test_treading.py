"""A treadle was passed: by one axle, which may be a shaking, and by so many on end that a train has passed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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


BRAKED = Yard(
    plant({"ash.main": ("running", "down"), "ash.loop": ("loop", "down")}, [("ash.down", "birch.up")]),
    {v: replace(vehicle, tail=v in ("b1", "b2")) for v, vehicle in stock("e1", "e2", "w1", "w2", "b1", "b2").items()},
)
TWO_TRAINS = [
    ("b1", "ash.main"),
    ("w1", "ash.main"),
    ("e1", SECTION),
    ("b2", "ash.loop"),
    ("w2", "ash.loop"),
    ("e2", "ash.loop"),
]
LEADS = {"w1": "e1", "b1": "e1", "w2": "e2", "b2": "e2"}


def tails(times: Sequence[float]) -> list[tuple[float, exactly.Arrangement]]:
    """What follows where a tail treadle at the section end tells of one at each of these times."""
    boundary, prior = BRAKED.plant.boundaries[LIMIT], Expecting(leads=LEADS)
    told = [Treading(BRAKED, prior, boundary, t, sees="tail", inward=None).explain for t in times]
    return exactly.chains([set_down(TWO_TRAINS), *told])


def test_a_tail_that_passes_tells_that_a_train_has_followed_its_engine_off_its_road() -> None:
    found = tails([8.0])
    assert exactly.lines(found, SECTION)["b1", "w1", "e1"] > 0.9
    assert exactly.places(found, "b2").get(SECTION, 0.0) < 0.05


def test_of_two_treadles_side_by_side_both_tell_of_the_same_tail() -> None:
    once, twice = tails([8.0]), tails([8.0, 8.3])
    assert exactly.lines(twice, SECTION)["b1", "w1", "e1"] >= exactly.lines(once, SECTION)["b1", "w1", "e1"]
