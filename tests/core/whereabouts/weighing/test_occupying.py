"""A stretch has become occupied: what can have come on to it, and what was put elsewhere before."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.occupying import Occupying
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Expecting, plant, set_down, stock

SECTION = "ash-birch"
ROADS = {
    "ash.main": ("running", "down"),
    "ash.loop": ("loop", "down"),
    "ash.dock": ("siding", "down"),
    "ash.pit": ("siding", "down"),
}
YARD = Yard(plant(ROADS, [("ash.down", "birch.up")]), stock("e1", "w1", "w2", "w3", undetected=["w3"]))
THROAT = {"ash.down"}


class Occupied:
    """What may be so once a stretch has become occupied."""

    def __init__(
        self, stretch: str, standing: Sequence[tuple[str, str]], prior: Expecting, idle: frozenset[str] = frozenset()
    ) -> None:
        explained = Occupying(YARD, prior, stretch, 5.0, idle).explain
        self._found = exactly.chains([set_down(standing), explained])

    def at(self, vehicle: str, place: str) -> float:
        """The probability that a vehicle stands there."""
        return exactly.places(self._found, vehicle).get(place, 0.0)

    def line(self, stretch: str, *line: str) -> float:
        """The probability that a stretch holds just this line."""
        return exactly.lines(self._found, stretch).get(line, 0.0)


def prior_with(**roads: str) -> Expecting:
    """What the roads of the station say; the throat says occupied."""
    return Expecting(states={"ash.down": "occupied", **{f"ash.{road}": state for road, state in roads.items()}})


PUSHED = [("w2", "ash.pit"), ("w1", "ash.down"), ("e1", "ash.down")]


def test_an_engine_may_have_put_its_wagon_on_an_occupied_road_and_have_come_alone() -> None:
    found = Occupied("ash.dock", PUSHED, prior_with(pit="occupied", main="clear", loop="clear"))
    assert found.at("e1", "ash.dock") > 0.0
    assert found.line("ash.pit", "w2", "w1") == found.at("e1", "ash.dock")
    assert found.at("w1", "ash.dock") > found.at("w1", "ash.pit")


def test_it_has_put_nothing_on_a_road_that_says_clear() -> None:
    found = Occupied("ash.dock", PUSHED, prior_with(pit="clear", main="clear", loop="clear"))
    assert found.at("w1", "ash.pit") == found.at("e1", "ash.dock") == 0.0


def test_it_has_rather_put_it_on_the_road_of_its_train() -> None:
    prior = prior_with(pit="occupied", main="clear", loop="occupied")
    prior.call_roads = {"e1": "ash.loop"}
    found = Occupied("ash.dock", PUSHED, prior)
    assert found.at("w1", "ash.loop") > found.at("w1", "ash.pit") > 0.0


def test_what_was_drawn_off_a_siding_with_another_is_put_back_there_together() -> None:
    standing = [("w1", "ash.down"), ("w2", "ash.down"), ("e1", "ash.down")]
    prior = prior_with()
    before = Occupied("ash.dock", standing, prior)
    prior.came_off = {"w1": "ash.dock", "w2": "ash.dock"}
    after = Occupied("ash.dock", standing, prior)
    assert before.line("ash.dock", "w2", "w1") == before.line("ash.dock", "w1", "w2") == 0.0
    assert after.line("ash.dock", "w1", "w2") > 0.1
    assert after.line("ash.dock", "w1") > 0.0


def test_it_is_brought_back_from_the_road_too_on_which_it_had_been_set_aside() -> None:
    """With its engine behind it, or before it in the throat."""
    prior = prior_with()
    prior.came_off = {"w1": "ash.dock"}
    for standing in ([("w1", "ash.main"), ("e1", "ash.down")], [("w1", "ash.main"), ("e1", "ash.main")]):
        assert Occupied("ash.dock", standing, prior).at("w1", "ash.dock") > 0.2
        assert Occupied("ash.dock", standing, prior_with()).at("w1", "ash.dock") < 0.1


def test_what_is_booked_elsewhere_is_not_brought_back() -> None:
    standing = [("w1", "ash.main"), ("e1", "ash.down")]
    prior = prior_with()
    prior.came_off = {"w1": "ash.dock"}
    prior.goals = {"w1": "ash.pit"}
    assert Occupied("ash.dock", standing, prior).at("w1", "ash.dock") == 0.0


def test_an_engine_seldom_goes_first_on_to_a_siding_where_nothing_stands() -> None:
    standing = [("e1", "ash.down"), ("w1", "ash.down")]
    empty = Occupied("ash.dock", standing, prior_with()).at("e1", "ash.dock")
    assert empty < Occupied("ash.loop", standing, prior_with()).at("e1", "ash.loop")
    assert empty < Occupied("ash.dock", [("w3", "ash.dock"), *standing], prior_with()).at("e1", "ash.dock")


def test_after_a_long_quiet_a_train_has_to_set_off_first() -> None:
    standing = [("w1", "ash.down"), ("e1", "ash.down")]
    for stretch in ("ash.loop", SECTION):
        idle = Occupied(stretch, standing, prior_with(), frozenset(THROAT))
        assert idle.line(stretch) > Occupied(stretch, standing, prior_with()).line(stretch)


def test_where_something_stands_that_works_detectors_nothing_need_have_come() -> None:
    standing = [("w2", "ash.dock"), ("w1", "ash.down"), ("e1", "ash.down")]
    assert Occupied("ash.dock", standing, prior_with()).line("ash.dock", "w2") == 1.0


def test_what_has_gone_out_through_a_throat_since_it_became_occupied_is_what_occupied_it() -> None:
    """The rest of its train still stands on its road, and an engine of another on the one beside it."""
    standing = [("w1", "ash.main"), ("e1", "ash.main"), ("w2", "ash.loop"), ("e2", "ash.loop")]
    yard = Yard(plant(ROADS, [("ash.down", "birch.up")]), stock("e1", "e2", "w1", "w2"))
    limit = yard.plant.boundaries["ash-birch@ash"]
    for out_t, is_that in ((6.0, True), (4.0, False)):

        def gone_out(hypothesis: Hypothesis, branches: Branches, t: float = out_t) -> None:
            made = hypothesis.branch(0.0)
            made.stands.cross(("e1",), yard.plant.boundaries["ash.main@down"], False, t)
            made.stands.cross(("e1",), limit, True, t)
            branches.add(made)

        occupied = Occupying(yard, Expecting(states={"ash.down": "occupied"}), "ash.down", 5.0)
        found = exactly.places(exactly.chains([set_down(standing), gone_out, occupied.explain]), "e2")
        assert (found["ash.loop"] == 1.0) is is_that


def run_through(prior: Expecting, *, on_the_line: bool = False, readers: tuple[str, ...] = ()) -> float:
    """How likely the engine that stands at Birch has come to Ash, where the main line has become occupied."""
    roads = ROADS | {"birch.main": ("running", "up")}
    yard = Yard(plant(roads, [("ash.down", "birch.up")], readers), stock("e1", "e2", "w1"))
    standing = [("w1", "birch.main"), ("e1", "birch.main"), *([("e2", SECTION)] if on_the_line else [])]
    explained = Occupying(yard, prior, "ash.main", 5.0).explain
    return exactly.places(exactly.chains([set_down(standing), explained]), "e1").get("ash.main", 0.0)


def test_who_was_given_a_section_may_have_run_through_it_unseen() -> None:
    given, booked = {("e1", SECTION)}, {"e1": SECTION}
    assert run_through(Expecting(authorities=given, next_sections=booked)) > 0.9
    assert run_through(Expecting(next_sections=booked)) == 0.0
    assert run_through(Expecting(authorities=given)) == 0.0
    assert run_through(Expecting(authorities=given, next_sections=booked), on_the_line=True) == 0.0


def test_the_more_would_have_told_of_it_the_less_likely_that_is() -> None:
    given: dict[str, Any] = {"authorities": {("e1", SECTION)}, "next_sections": {"e1": SECTION}}
    clear = run_through(Expecting(**given, states={SECTION: "clear"}))
    train = {"w1": "e1"}
    assert run_through(Expecting(**given, leads=train, states={"birch.main": "occupied"})) < 0.7
    assert run_through(Expecting(**given, leads=train, states={"birch.main": "clear"})) > 0.9
    unread = run_through(Expecting(**given), readers=("ash-birch@ash",))
    assert clear < 0.5
    assert unread < run_through(Expecting(**given))
