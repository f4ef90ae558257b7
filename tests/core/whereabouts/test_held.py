"""What is shown to the rest of the core follows the weighing, and what changed is told boundary by boundary."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.held import Held, Moved
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.proof import Mark, Proof
from bridge.core.whereabouts.weighing.questions import Explain, Questions
from bridge.core.whereabouts.weighing.yard import Yard

from .weighing.yards import LENGTH_MM, plant, set_down, stock

ROADS = {
    "ash.main": ("running", "up down"),
    "ash.dock": ("siding", "down"),
    "ash.pit": ("siding", "up"),
    "birch.main": ("running", "up"),
}
PLANT = plant(ROADS, [("ash.down", "birch.up"), ("cedar.down", "ash.up")])
MANY = [f"w{n}" for n in range(1, 12)]
FITS = round(PLANT.roads["ash.dock"].length_mm / LENGTH_MM)


class Shown:
    """What is held, of what a test says is so."""

    def __init__(self, *standing: tuple[str, str]) -> None:
        vehicles = stock("e1", *MANY)
        self.yard, self.questions, self.held = Yard(PLANT, vehicles), Questions(), Held(PLANT, vehicles)
        self.follow(set_down(standing), Proof(0.0, None, None, "assumed"))

    def follow(self, explain: Explain, proof: Proof) -> list[Moved]:
        question = self.questions.weigh(explain, 0.0, part=True)
        return self.held.follow(self.yard, self.questions, question.agreed, proof)

    def move(self, vehicles: Sequence[str], place: str, end: int = 1, seen: str | None = None) -> list[Moved]:
        """They stand elsewhere now, the last of them the outermost at an end."""

        def explained(hypothesis: Hypothesis, branches: Branches) -> None:
            for vehicle in vehicles:
                hypothesis.stands.put(vehicle, place, end)
            branches.add(hypothesis)

        return self.follow(explained, Proof(5.0, 7, seen, "order"))


def steps(moved: Moved) -> list[tuple[str, str]]:
    return [(step.start, step.goal) for step in moved.steps]


def test_a_way_through_a_throat_is_told_boundary_by_boundary() -> None:
    (moved,) = Shown(("e1", "ash.main")).move(["e1"], "ash-birch", end=0)
    assert steps(moved) == [("ash.main", "ash.down"), ("ash.down", "ash-birch")]
    assert not moved.is_afar


@pytest.mark.parametrize("start,goal", [("ash.main", "birch.main"), (OFF, "ash.main"), ("ash.main", OFF)])
def test_what_is_held_to_be_far_from_where_it_was_is_told_in_one(start: str, goal: str) -> None:
    """It has not just moved, but was elsewhere before."""
    (moved,) = Shown(*([] if start == OFF else [("e1", start)])).move(["e1"], goal)
    assert steps(moved) == [(start, goal)]
    assert moved.is_afar


@pytest.mark.parametrize(
    "goal,end,order",
    [("ash.down", 0, ["w2", "w1", "e1"]), ("ash.up", 1, ["e1", "w1", "w2"]), ("ash-birch", 0, ["w2", "w1", "e1"])],
)
def test_who_leaves_a_stretch_first_is_told_first(goal: str, end: int, order: list[str]) -> None:
    shown = Shown(("e1", "ash.main"), ("w1", "ash.main"), ("w2", "ash.main"))
    assert [moved.vehicle for moved in shown.move(order, goal, end)] == order


def test_places_and_order_stand_as_weighed() -> None:
    shown = Shown(("w1", "ash.main"), ("w2", "ash.main"), ("w3", "ash.dock"))
    shown.move(["w1"], "ash.dock")
    held = shown.held
    assert (held.line("ash.main"), held.line("ash.dock")) == (("w2",), ("w3", "w1"))
    assert (held.place("w1"), held.index("w1"), held.index("w2")) == ("ash.dock", 2, 1)
    assert (held.place("w4"), held.index("w4")) == (OFF, None)


def test_why_and_since_when_is_kept_of_what_moved_alone() -> None:
    shown = Shown(("w1", "ash.main"), ("w2", "ash.main"), ("w3", "ash.dock"))
    shown.held.touched.clear()
    shown.move(["w2", "w1"], "ash.down", end=0, seen="w1")
    held = shown.held
    assert (held.marks["w1"], held.marks["w2"]) == (Mark("seen", (7,)), Mark("order", (7,)))
    assert (held.changed["w1"], held.changed["w3"]) == (5.0, 0.0)
    assert set(held.touched) == {"w1", "w2"}


def test_whose_order_has_changed_is_touched_although_it_has_not_moved() -> None:
    shown = Shown(("w1", "ash.main"), ("w2", "ash.main"))
    shown.held.touched.clear()
    shown.move(["w3"], "ash.main", end=0)
    assert set(shown.held.touched) == {"w1", "w2", "w3"}


def test_what_a_dead_end_road_does_not_hold_fouls_the_throat_at_its_open_end() -> None:
    for road, throat, row in (("ash.dock", "ash.down", MANY), ("ash.pit", "ash.up", MANY[::-1])):
        shown = Shown(*((vehicle, road) for vehicle in row))
        assert [shown.held.overhang(vehicle) for vehicle in MANY] == [()] * FITS + [(throat,)]


def test_on_a_road_that_is_open_at_both_ends_nothing_fouls() -> None:
    shown = Shown(*((vehicle, "ash.main") for vehicle in MANY))
    assert not any(shown.held.overhang(vehicle) for vehicle in MANY)
