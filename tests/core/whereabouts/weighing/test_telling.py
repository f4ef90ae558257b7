"""What operators tell: one look settles a doubt, and a train that has arrived stands as it ran."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.telling import Arriving, GivenBack, Looking
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Explain, plant, set_down, stock

ROADS = {"ash.main": ("running", "up down"), "ash.dock": ("siding", "down"), "ash.pit": ("siding", "down")}
YARD = Yard(plant(ROADS, [("ash.down", "birch.up"), ("cedar.down", "ash.up")]), stock("e1", "w1", "w2", "w3"))
SECTION = "ash-birch"


def told(standing: Sequence[tuple[str, str]], looking: Looking | Arriving) -> dict[str, tuple[str, ...]]:
    """Stretch to its line, where there was no doubt before."""
    ((_, stands),) = exactly.chains([set_down(standing), looking.explain])
    return {stretch: stands.line(stretch) for stretch in YARD.plant.at_stretch if stands.line(stretch)}


def one_or_the_other(hypothesis: Hypothesis, branches: Branches) -> None:
    """Of two wagons one stands in the dock and one in the pit, most likely the first in the dock."""
    for weight, dock, pit in ((-0.1, "w1", "w2"), (-2.0, "w2", "w1")):
        made = hypothesis.branch(weight)
        made.stands.put(dock, "ash.dock", 1)
        made.stands.put(pit, "ash.pit", 1)
        branches.add(made)


def test_a_look_settles_what_hangs_together_with_it() -> None:
    doubt: list[Explain] = [set_down([("w1", "ash.main"), ("w2", "ash.main")]), one_or_the_other]
    before = exactly.places(exactly.chains(doubt), "w2")
    after = exactly.chains([*doubt, Looking(YARD, "w1", "ash.pit", None).explain])
    assert exactly.places(after, "w1") == {"ash.pit": pytest.approx(1.0)}
    assert before["ash.dock"] < 0.5 < 0.9 < exactly.places(after, "w2")["ash.dock"]


@pytest.mark.parametrize("order,line", [(1, ("w3", "w1", "w2")), (2, ("w1", "w3", "w2")), (9, ("w1", "w2", "w3"))])
def test_a_vehicle_stands_in_the_order_that_was_told(order: int, line: tuple[str, ...]) -> None:
    for where in ("ash.dock", "ash.main"):
        standing = [("w1", "ash.main"), ("w2", "ash.main"), ("w3", where)]
        assert told(standing, Looking(YARD, "w3", "ash.main", order))["ash.main"] == line


@pytest.mark.parametrize("was,line", [("ash.down", ("w2", "w1")), ("ash.up", ("w1", "w2"))])
def test_without_an_order_it_stands_at_the_end_from_which_it_came(was: str, line: tuple[str, ...]) -> None:
    assert told([("w2", "ash.main"), ("w1", was)], Looking(YARD, "w1", "ash.main", None))["ash.main"] == line


def test_what_was_off_the_layout_stands_at_the_open_end_and_what_is_taken_off_stands_nowhere() -> None:
    assert told([("w2", "ash.dock")], Looking(YARD, "w1", "ash.dock", None)) == {"ash.dock": ("w2", "w1")}
    assert told([("w2", "ash.dock"), ("w1", "ash.dock")], Looking(YARD, "w2", OFF, None)) == {"ash.dock": ("w1",)}


def test_a_train_that_has_arrived_stands_in_the_order_in_which_it_ran() -> None:
    """What it has left on a road stays there, though it goes with it, and what is none of it stays on the line."""
    standing = [("e1", SECTION), ("w1", SECTION), ("w2", SECTION), ("w3", "ash.dock")]
    found = told(standing, Arriving(YARD, "e1", "ash.main", ["e1", "w1", "w3"], 5.0))
    assert found == {"ash.main": ("e1", "w1"), SECTION: ("w2",), "ash.dock": ("w3",)}


def test_what_of_a_train_was_still_on_the_line_behind_its_engine_arrives_with_it() -> None:
    standing = [("e1", "ash.down"), ("w1", SECTION), ("w2", "ash.dock")]
    found = told(standing, Arriving(YARD, "e1", "ash.main", ["e1", "w1", "w2"], 5.0))
    assert found == {"ash.main": ("e1", "w1"), "ash.dock": ("w2",)}


def test_an_engine_that_was_off_the_layout_stands_where_it_is_said_to_have_arrived() -> None:
    assert told([("w1", "ash.main")], Arriving(YARD, "e1", "ash.main", ["e1"], 5.0)) == {"ash.main": ("w1", "e1")}


def test_an_engine_whose_train_has_given_its_section_back_is_not_there_any_more() -> None:
    def in_or_out(hypothesis: Hypothesis, branches: Branches) -> None:
        for weight, place in ((-0.5, SECTION), (-1.0, "ash.main")):
            made = hypothesis.branch(weight)
            made.stands.put("e1", place, 1)
            branches.add(made)

    doubt: list[Explain] = [set_down([("e1", "ash.dock")]), in_or_out]
    before = exactly.places(exactly.chains(doubt), "e1")
    after = exactly.places(exactly.chains([*doubt, GivenBack("e1", {SECTION}).explain]), "e1")
    assert before[SECTION] > before["ash.main"]
    assert after["ash.main"] > 0.9
