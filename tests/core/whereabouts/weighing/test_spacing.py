"""Three are read on end: how long it takes from one to the next tells who has passed between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.spacing import ON_END_S, Read, Spacing, on_end
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Explain, plant, set_down, stock

SECTION, LIMIT = "ash-birch", "ash-birch@ash"
ROADS = {"ash.main": ("running", "up down"), "ash.dock": ("siding", "down"), "birch.main": ("running", "up down")}
STOCK = stock("e1", "w1", "w2", "w3", untagged=["w2"])
YARD = Yard(plant(ROADS, [("ash.down", "birch.up")], [LIMIT]), STOCK)  # of vehicles 100 mm long


def as_it_was(hypothesis: Hypothesis, branches: Branches) -> None:
    """Nothing else has happened."""
    branches.add(hypothesis)


def either(*standings: Sequence[tuple[str, str]]) -> Explain:
    """One of these is so, each as likely as the others."""

    def explain(hypothesis: Hypothesis, branches: Branches) -> None:
        for standing in standings:
            set_down(standing)(hypothesis.branch(0.0), branches)

    return explain


WITH = [("w3", SECTION), ("w2", SECTION), ("w1", SECTION), ("e1", SECTION)]
WITHOUT = [("w3", SECTION), ("w1", SECTION), ("e1", SECTION), ("w2", "ash.dock")]


def with_it(reads: Sequence[Read], boundary: str = LIMIT, yard: Yard = YARD, *standings: Sequence[tuple[str, str]]) -> float:
    """How likely it is that the wagon without a tag runs between the others."""
    spacing = Spacing(yard, yard.plant.boundaries[boundary], reads, as_it_was)
    found = exactly.chains([either(*(standings or (WITH, WITHOUT))), spacing.explain])
    return 1.0 - exactly.places(found, "w2").get("ash.dock", 0.0)


@pytest.mark.parametrize(
    ("from_w1_to_w3_s", "least", "most"), [(1.0, 0.0, 0.1), (2.0, 0.9, 1.0), (1.1, 0.0, 0.2), (1.8, 0.85, 1.0)]
)
def test_the_time_between_two_reads_tells_of_a_wagon_without_a_tag(
    from_w1_to_w3_s: float, least: float, most: float
) -> None:
    reads = [("e1", 5.0), ("w1", 6.0), ("w3", 6.0 + from_w1_to_w3_s)]
    assert least <= with_it(reads) <= most


@pytest.mark.parametrize("slower", [0.3, 0.5, 1.0, 2.0, 5.0])
def test_how_fast_the_train_runs_does_not_matter(slower: float) -> None:
    reads = [(vehicle, t * slower) for vehicle, t in (("e1", 1.0), ("w1", 2.0), ("w3", 4.0))]
    assert with_it(reads) == pytest.approx(with_it([("e1", 1.0), ("w1", 2.0), ("w3", 4.0)]))


def test_a_train_that_stops_meanwhile_tells_little() -> None:
    assert 0.3 < with_it([("e1", 5.0), ("w1", 6.0), ("w3", 11.9)]) < 0.85


def test_between_the_first_two_it_shows_as_well() -> None:
    first = [("w3", SECTION), ("w1", SECTION), ("w2", SECTION), ("e1", SECTION)]
    reads = [("e1", 5.0), ("w1", 7.0), ("w3", 8.0)]
    assert with_it(reads, LIMIT, YARD, first, WITHOUT) > 0.9


def test_lengths_count_and_not_how_many() -> None:
    """A coach three times as long, and nothing between: it takes as long as three wagons would."""
    long = Yard(YARD.plant, STOCK | {"w3": replace(STOCK["w3"], length_mm=300.0)})
    reads = [("e1", 5.0), ("w1", 6.0), ("w3", 8.0)]  # middles 100 and 200 mm apart
    assert with_it(reads, LIMIT, long) < 0.3 < 0.9 < with_it(reads)


def test_a_train_that_comes_in_and_is_on_its_road_in_part() -> None:
    """Read from the throat's other side: the engine has gone on to the road meanwhile."""
    ahead = [("e1", "ash.main"), ("w1", "ash.main"), ("w2", "ash.down"), ("w3", "ash.down")]
    without = [("e1", "ash.main"), ("w1", "ash.main"), ("w3", "ash.down"), ("w2", "ash.dock")]
    for_two, for_one = [("e1", 5.0), ("w1", 6.0), ("w3", 8.0)], [("e1", 5.0), ("w1", 6.0), ("w3", 7.0)]
    assert with_it(for_two, LIMIT, YARD, ahead, without) > 0.9
    assert with_it(for_one, LIMIT, YARD, ahead, without) < 0.1


@pytest.mark.parametrize(("goal", "start"), [(SECTION, "ash.down"), ("ash.down", SECTION)])
@pytest.mark.parametrize(("from_w1_to_w3_s", "least", "most"), [(2.0, 0.1, 0.5), (1.0, 0.0, 0.01)])
def test_a_wagon_without_a_tag_that_was_believed_next_may_have_passed_before(
    goal: str, start: str, from_w1_to_w3_s: float, least: float, most: float
) -> None:
    """It came in between, so it ran there: it is not the next one behind."""
    passed = ["w3", "w1", "e1"]
    is_out = goal == SECTION  # whose end at the boundary is the up end; the throat's is the down end
    standing = [(vehicle, goal) for vehicle in (passed if is_out else passed[::-1])] + [("w2", start)]
    reads = [("e1", 5.0), ("w1", 6.0), ("w3", 6.0 + from_w1_to_w3_s)]
    spacing = Spacing(YARD, YARD.plant.boundaries[LIMIT], reads, as_it_was)
    found = exactly.lines(exactly.chains([set_down(standing), spacing.explain]), goal)
    between = ("w3", "w2", "w1", "e1")
    assert least <= found.get(between if is_out else between[::-1], 0.0) <= most
    assert len(found) == 2


@pytest.mark.parametrize("next_one", ["w4", None])
def test_who_carries_a_tag_would_have_been_read_and_nobody_is_made_up(next_one: str | None) -> None:
    yard = Yard(YARD.plant, STOCK | stock("w4"))
    standing = [*WITHOUT, *([(next_one, "ash.down")] if next_one else [])]
    spacing = Spacing(yard, yard.plant.boundaries[LIMIT], [("e1", 5.0), ("w1", 6.0), ("w3", 8.0)], as_it_was)
    assert len(exactly.chains([set_down(standing), spacing.explain])) == 1


def test_who_does_not_stand_in_one_line_is_as_likely_at_any_times() -> None:
    elsewhere = [("w3", SECTION), ("w2", "ash.dock"), ("w1", "birch.main"), ("e1", "ash.dock")]
    spacings = [
        Spacing(YARD, YARD.plant.boundaries[LIMIT], [("e1", 5.0), ("w1", 6.0), ("w3", t)], as_it_was) for t in (7.0, 8.0)
    ]
    one, other = ([weight for weight, _ in exactly.chains([set_down(elsewhere), s.explain])] for s in spacings)
    assert one == other


def test_what_is_said_once_more_is_no_passing() -> None:
    reads = on_end((("e1", 1.0), ("w1", 2.0)), "w1", 2.5)
    assert reads == (("e1", 1.0), ("w1", 2.0))
    assert on_end(reads, "w3", 4.0) == (("e1", 1.0), ("w1", 2.0), ("w3", 4.0))


def test_the_last_three_are_kept() -> None:
    reads = (("e1", 1.0), ("w1", 2.0), ("w2", 3.0))
    assert on_end(reads, "w3", 4.0) == (("w1", 2.0), ("w2", 3.0), ("w3", 4.0))


@pytest.mark.parametrize("later_s", [0.0, -1.0, ON_END_S, 60.0])
def test_what_is_read_long_after_or_at_once_has_not_passed_on_end(later_s: float) -> None:
    assert on_end((("e1", 1.0), ("w1", 2.0)), "w3", 2.0 + later_s) == (("w3", 2.0 + later_s),)
