"""A stretch has become clear, or has been quiet for long: what has gone, after whom, and what is still there unseen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, log

import pytest

from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground
from bridge.core.whereabouts.weighing.emptying import TOO_SOON, Emptying
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.yard import FASTEST_MM_S, Yard

from . import exactly
from .yards import Expecting, Explain, plant, set_down, stock

SECTION, LIMIT, LEADS = "ash-birch", "ash-birch@birch", {"w1": "e1"}
ROADS = {
    "ash.main": ("running", "down"),
    "ash.loop": ("loop", "down"),
    "ash.dock": ("siding", "down"),
    "birch.main": ("running", "up"),
}


def yard(readers: Iterable[str] = ()) -> Yard:
    vehicles = stock("e1", "e2", "w1", "w2", "w3", "w4", undetected=["w4"])
    return Yard(plant(ROADS, [("ash.down", "birch.up")], readers), vehicles)


def cleared(
    stretch: str, standing: Sequence[tuple[str, str]], prior: Expecting, readers: Iterable[str] = ()
) -> list[tuple[float, Arrangement]]:
    """Everything that may be so when a stretch has become clear."""
    return exactly.chains([set_down(standing), Emptying(yard(readers), prior, stretch, 5.0).explain])


def likely(vehicle: str, place: str, found: Sequence[tuple[float, Arrangement]]) -> float:
    return exactly.places(found, vehicle).get(place, 0.0)


def still_there(*vehicles: str) -> float:
    """The chance of a false clear while just these stand in a throat."""
    start = Hypothesis(Arrangement(Ground()))
    for vehicle in vehicles:
        start.stands.put(vehicle, "ash.down", 1)
    branches = Branches()
    Emptying(yard(), Expecting(), "ash.down", 5.0).explain(start, branches)
    return next((exp(row.weight) for row in branches.rows if row.stands.line("ash.down") == vehicles), 0.0)


def test_a_track_detector_overlooks_an_engine_less_often_than_a_wagon_and_several_less_often_than_one() -> None:
    assert still_there("w1") > still_there("e1") > 0.0
    assert still_there("w1") > still_there("w1", "w2") > still_there("w1", "w2", "w3") > 0.0
    assert still_there("w4") == 1.0, "one without anything that detectors see tells of nothing"


def test_what_goes_with_an_engine_has_come_in_behind_it_from_the_throat_or_the_section() -> None:
    for start, vehicle in (("birch.up", "w4"), (SECTION, "w1"), (SECTION, "w4")):
        standing = [("e1", "birch.main"), (vehicle, start)]
        found = cleared("birch.up", standing, Expecting(leads={vehicle: "e1"}))
        assert likely(vehicle, "birch.main", found) > 0.9
        assert exactly.lines(found, "birch.main")[vehicle, "e1"] > 0.9


def test_where_a_reader_would_have_told_of_it_or_it_goes_with_none_it_stayed() -> None:
    standing = [("e1", "birch.main"), ("w1", SECTION)]
    alone = cleared("birch.up", standing, Expecting(leads=LEADS))
    read = cleared("birch.up", standing, Expecting(leads=LEADS), [LIMIT])
    assert likely("w1", "birch.main", read) < likely("w1", "birch.main", alone)
    assert likely("w1", SECTION, cleared("birch.up", standing, Expecting())) == 1.0
    elsewhere = [("e1", "ash.main"), ("w1", SECTION)]
    assert likely("w1", SECTION, cleared("birch.up", elsewhere, Expecting(leads=LEADS))) == 1.0


def test_only_the_foremost_that_go_with_the_engine_have_come_in_with_it() -> None:
    standing = [("e1", "birch.main"), ("w2", SECTION), ("w1", SECTION), ("w3", SECTION)]
    leads = {"w1": "e1", "w3": "e1", "w2": "e2"}
    found = exactly.lines(cleared("birch.up", standing, Expecting(leads=leads)), "birch.main")
    assert max(found, key=lambda line: found[line]) == ("w1", "w3", "e1")


def test_a_wagon_goes_on_to_the_road_of_its_own_engine() -> None:
    standing = [("e1", "ash.main"), ("e2", "ash.loop"), ("w1", "ash.down")]
    own, others = (cleared("ash.down", standing, Expecting(leads={"w1": engine})) for engine in ("e1", "e2"))
    assert likely("w1", "ash.main", own) > likely("w1", "ash.loop", own)
    assert likely("w1", "ash.main", others) < likely("w1", "ash.loop", others)


def test_an_engine_goes_first_on_to_a_siding_to_fetch_what_stands_there() -> None:
    there = cleared("ash.down", [("w4", "ash.dock"), ("e1", "ash.down")], Expecting())
    nothing = cleared("ash.down", [("e1", "ash.down")], Expecting())
    assert likely("e1", "ash.dock", there) > likely("e1", "ash.dock", nothing)


def test_what_was_in_a_throat_has_gone_by_one_of_its_ends_or_parted_and_gone_by_both() -> None:
    found = cleared("ash.down", [("w1", "ash.down"), ("e1", "ash.down")], Expecting(next_sections={"e1": SECTION}))
    both = [(likely("w1", place, found), likely("e1", place, found)) for place in ("ash.main", SECTION)]
    assert all(chance > 0.0 for row in both for chance in row)
    parted = sum(c for c, stands in found if stands.place("w1") == "ash.main" and stands.place("e1") == SECTION)
    whole = sum(c for c, stands in found if stands.place("w1") == "ash.main" == stands.place("e1"))
    assert whole > parted > 0.0


def in_the_throat_or_the_dock(hypothesis: Hypothesis, branches: Branches) -> None:
    for place in ("ash.down", "ash.dock"):
        made = hypothesis.branch(log(0.5))
        made.stands.put("w1", place, 1)
        branches.add(made)


def test_after_a_long_quiet_a_throat_that_still_says_occupied_speaks_for_what_stands_in_it() -> None:
    """Or something fouls it, and what is believed there has gone."""
    emptying = Emptying(yard(), Expecting(), "ash.down", 30.0)
    there: list[Explain] = [set_down([("w1", "ash.down")])]
    quiet, occupied = (exactly.chains([*there, each]) for each in (emptying.settle, emptying.settle_although_occupied))
    assert likely("w1", "ash.down", quiet) < likely("w1", "ash.down", occupied) < 1.0
    doubt: list[Explain] = [set_down([]), in_the_throat_or_the_dock]
    quiet, occupied = (exactly.chains([*doubt, each]) for each in (emptying.settle, emptying.settle_although_occupied))
    assert likely("w1", "ash.dock", occupied) < 0.5 < likely("w1", "ash.dock", quiet)


def test_what_is_in_the_throat_and_what_is_in_the_section_have_come_in_together() -> None:
    standing = [("e1", "birch.main"), ("w1", SECTION), ("w4", "birch.up")]
    found = cleared("birch.up", standing, Expecting(leads={"w1": "e1", "w4": "e1"}))
    lines = exactly.lines(found, "birch.main")
    assert max(lines, key=lambda line: lines[line]) == ("w1", "w4", "e1")


def test_a_section_that_clears_sooner_than_any_train_runs_through_it_was_hardly_run_through() -> None:
    ground = yard()
    soonest_s = 5000.0 * ground.plant.scale / FASTEST_MM_S
    assert ground.soonest_s(SECTION) == soonest_s and ground.soonest_s("ash.main") == 0.0

    def goes_in(hypothesis: Hypothesis, branches: Branches) -> None:
        made = branches.grow(hypothesis, 0.0)
        made.stands.cross(("e1",), ground.plant.boundaries["ash-birch@ash"], True, 100.0)

    def through(after_s: float) -> float:
        empties = Emptying(ground, Expecting(), SECTION, 100.0 + after_s).explain
        found = exactly.chains([set_down([("e1", "ash.down")]), goes_in, empties])
        far, near = (
            sum(likely("e1", f"{s}.{p}", found) for p in ("up", "down", "main", "loop", "dock")) for s in ("birch", "ash")
        )
        return far / near

    assert through(soonest_s - 0.1) / through(soonest_s + 0.1) == pytest.approx(exp(TOO_SOON))


def into_the_main(came_by: str, booked: str | None) -> float:
    """How likely an engine has gone on to the main rather than to the loop, once it is no more in the throat into which it
    came by a boundary."""
    here = yard()
    stands = Arrangement(Ground())
    boundary = here.plant.boundaries[came_by]
    stands.set_down([("e1", boundary.outer)])
    stands.cross(("e1",), boundary, outward=False, t=4.0)
    branches = Branches()
    prior = Expecting(call_roads={} if booked is None else {"e1": booked})
    Emptying(here, prior, "ash.down", 14.0).settle(Hypothesis(stands), branches)
    chances = {row.stands.place("e1"): exp(row.weight) for row in branches.rows}
    return chances["ash.main"] / (chances["ash.main"] + chances["ash.loop"])


def test_a_train_that_comes_in_is_on_its_booked_road_far_rather_than_on_another_and_less_so_as_it_shunts() -> None:
    assert into_the_main("ash-birch@ash", "ash.main") > 0.85
    assert into_the_main("ash-birch@ash", "ash.loop") < 0.15
    assert 0.6 < into_the_main("ash.dock@down", "ash.main") < 0.7
    assert into_the_main("ash-birch@ash", None) == pytest.approx(0.5)
    assert into_the_main("ash-birch@ash", "birch.main") == pytest.approx(0.5)
