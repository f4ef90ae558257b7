"""Who goes with whom: what an engine is seen to move joins it, what it is seen elsewhere without was left."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.whereabouts import Change, Crossing, Joined, Left
from bridge.core.whereabouts.company import Company
from bridge.core.whereabouts.held import Held
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.proof import Proof
from bridge.core.whereabouts.weighing.questions import Explain, Questions
from bridge.core.whereabouts.weighing.yard import Yard

from .weighing.yards import Expecting, plant, set_down, stock

SECTION = "ash-birch"
ROADS = {
    "ash.main": ("running", "down"),
    "ash.loop": ("loop", "down"),
    "ash.dock": ("siding", "down"),
    "ash.pit": ("siding", "down"),
    "birch.main": ("running", "up"),
}
PLANT = plant(ROADS, [("ash.down", "birch.up")])
VEHICLES = stock("e1", "e2", "w1", "w2", "w3")


class Shunting:
    """Who goes with whom while vehicles move as a test says; `leads`: who goes with whom at first."""

    def __init__(self, standing: Sequence[tuple[str, str]], leads: dict[str, str], prior: Expecting | None = None) -> None:
        self.yard, self.questions, self.held = Yard(PLANT, VEHICLES), Questions(), Held(PLANT, VEHICLES)
        self.company, self.prior, self.t = Company(self.held), prior or Expecting(), 0.0
        self._follow(set_down(standing), Proof(0.0, None, None, "assumed"))
        for vehicle, engine in leads.items():
            self.company.couple(vehicle, engine)

    def _follow(self, explain: Explain, proof: Proof, boundary: str | None = None) -> list[Change]:
        question = self.questions.weigh(explain, 0.0, part=True)
        moved = self.held.follow(self.yard, self.questions, question.agreed, proof)
        if proof.by != "assumed":
            self.company.regroup(moved, proof, PLANT.boundaries.get(boundary or ""), self.prior)
        return [change for change in self.held.drain() if not isinstance(change, Crossing)]

    def move(
        self,
        vehicles: Sequence[str],
        place: str,
        end: int = 0,
        *,
        by: str = "order",
        seen: str | None = None,
        boundary: str | None = None,
    ) -> list[Change]:
        """They stand at an end of another stretch a second later; who has joined whom by that, and who was left."""

        def explained(hypothesis: Hypothesis, branches: Branches) -> None:
            for vehicle in vehicles:
                hypothesis.stands.put(vehicle, place, end)
            branches.add(hypothesis)

        self.t += 1.0
        return self._follow(explained, Proof(self.t, 7, seen, by), boundary)


def test_what_moves_with_an_engine_joins_it_from_the_road_where_it_stood() -> None:
    yard = Shunting([("w1", "ash.dock"), ("e1", "ash.down")], {})
    assert yard.move(["w1"], "ash.down") == [Joined(1.0, 7, "w1", "e1", "ash.dock")]
    assert (yard.company.leader("w1"), yard.company.drawn_from["w1"]) == ("e1", "ash.dock")
    assert yard.move(["w1"], "ash.pit", 1) == [], "it still goes with it until that is seen elsewhere"


def test_what_an_engine_set_down_in_a_siding_was_left_once_it_is_seen_elsewhere() -> None:
    yard = Shunting([("w1", "ash.dock"), ("e1", "ash.main")], {"w1": "e1"}, Expecting(kept={"w1"}))
    assert yard.move(["e1"], SECTION) == [Left(1.0, 7, "w1", "e1", "ash.dock")]
    assert yard.company.leader("w1") is None


def test_what_an_engine_set_down_on_a_road_for_trains_is_its_trains_unless_it_is_booked_to_stay() -> None:
    for road in ("ash.main", "ash.loop"):
        for kept in (True, False):
            prior = Expecting(kept={"w1"} if kept else set())
            yard = Shunting([("w1", road), ("e1", road)], {"w1": "e1"}, prior)
            assert yard.move(["e1"], SECTION) == ([] if kept else [Left(1.0, 7, "w1", "e1", road)])


def test_an_engine_that_has_only_come_off_a_road_may_be_coupled_still_to_what_stands_there() -> None:
    for road, changes in (("ash.dock", []), ("ash.pit", [Left(1.0, 7, "w1", "e1", "ash.pit")])):
        yard = Shunting([("w1", road), ("e1", "ash.dock" if road == "ash.dock" else "ash.main")], {"w1": "e1"})
        yard.company.read_at["e1"] = ("ash.dock@down", False)
        if road == "ash.pit":
            yard.company.read_at["e1"] = ("ash.pit@down", True)
        assert yard.move(["e1"], "ash.down") == changes


def test_on_the_line_a_wagon_goes_with_the_engine_of_the_train_in_which_it_runs() -> None:
    yard = Shunting([("w1", "ash.down"), ("e2", SECTION), ("e1", "ash.main")], {"w1": "e1"})
    left, joined = yard.move(["w1"], SECTION)
    assert isinstance(left, Left) and left.engine == "e1"
    assert isinstance(joined, Joined) and joined.engine == "e2"


def test_a_wagon_joins_the_engine_that_is_booked_to_lift_it_else_the_one_that_moved_last() -> None:
    for prior, lifts in ((Expecting(), "e2"), (Expecting(lifted_by={"w1": "e1"}), "e1")):
        yard = Shunting([("w1", "ash.dock"), ("e1", "ash.main"), ("e2", "ash.loop")], {}, prior)
        yard.move(["e1"], "ash.down")
        yard.move(["e1"], "ash.main", 1)
        yard.move(["e2"], "ash.down")
        yard.move(["e2"], "ash.loop", 1)
        (joined,) = yard.move(["w1"], "ash.down")
        assert isinstance(joined, Joined) and joined.engine == lifts


def test_it_joins_the_engine_of_the_string_that_it_runs_in_where_that_has_drawn_out_over_the_limit() -> None:
    standing = [("w1", "ash.dock"), ("w2", "ash.down"), ("e1", SECTION), ("e2", "ash.main")]
    yard = Shunting(standing, {"w2": "e1"}, Expecting(lifted_by={"w1": "e2"}))
    (joined,) = yard.move(["w1"], "ash.down")
    assert isinstance(joined, Joined) and joined.engine == "e1"


def test_an_engine_that_has_drawn_out_over_the_limit_to_shunt_may_lift_a_wagon_too() -> None:
    standing = [("w1", "ash.dock"), ("e1", SECTION), ("e2", "ash.main")]
    (joined,) = Shunting(standing, {}, Expecting(lifted_by={"w1": "e1"})).move(["w1"], "ash.down")
    assert isinstance(joined, Joined) and joined.engine == "e1"


def test_when_a_train_sets_down_on_a_second_road_what_stands_on_the_first_was_uncoupled() -> None:
    yard = Shunting([("w1", "ash.dock"), ("w2", "ash.down"), ("e1", "ash.down")], {"w1": "e1", "w2": "e1"})
    assert yard.move(["w2"], "ash.pit", 1) == [Left(1.0, 7, "w1", "e1", "ash.dock")]


def test_what_is_told_to_stand_where_its_engine_is_not_goes_with_it_no_longer() -> None:
    yard = Shunting([("w1", "ash.main"), ("e1", "ash.main")], {"w1": "e1"}, Expecting(kept={"w1"}))
    (left,) = yard.move(["w1"], "ash.loop", by="told", seen="w1")
    assert isinstance(left, Left) and left.road == "ash.loop"
    assert yard.move(["w2"], "ash.main", by="told", seen="w2") == [], "nor does it join by being looked at"


def test_when_a_train_has_departed_what_stands_on_a_road_was_left_and_what_is_in_the_throat_was_not() -> None:
    standing = [("w1", "ash.main"), ("w2", "ash.down"), ("w3", SECTION), ("e1", SECTION)]
    yard = Shunting(standing, {"w1": "e1", "w2": "e1", "w3": "e1"}, Expecting(kept={"w1"}))
    yard.company.part("e1", SECTION, 9.0, 8)
    assert yard.held.drain() == [Left(9.0, 8, "w1", "e1", "ash.main")]


def test_a_train_is_told_from_its_engine_on_as_it_stands() -> None:
    standing = [("w1", "ash.dock"), ("w3", "ash.main"), ("w2", "ash.main"), ("e1", "ash.main")]
    yard = Shunting(standing, {"w1": "e1", "w2": "e1", "w3": "e1"})
    assert yard.company.company("e1") == ["e1", "w2", "w3", "w1"]
    assert [yard.company.leader(vehicle) for vehicle in ("e1", "e2", "w1")] == ["e1", "e2", "e1"]


def test_what_was_set_down_in_a_siding_was_left_once_its_engine_brings_in_something_else() -> None:
    yard = Shunting(
        [("w1", "ash.dock"), ("e1", "ash.dock"), ("w2", "ash.loop")], {"w1": "e1", "w2": "e1"}, Expecting(kept={"w1"})
    )
    assert yard.move(["e1"], "ash.down") == [], "it may still be coupled, just inside"
    assert yard.move(["w2"], "ash.dock", 1, seen="w2", boundary="ash.dock@down") == [Left(2.0, 7, "w1", "e1", "ash.dock")]


def test_what_an_engine_pushes_in_one_after_another_still_goes_with_it() -> None:
    yard = Shunting([("w1", "ash.down"), ("w2", "ash.down"), ("e1", "ash.down")], {"w1": "e1", "w2": "e1"})
    assert yard.move(["w1"], "ash.dock", 1, seen="w1", boundary="ash.dock@down") == []
    assert yard.move(["w2"], "ash.dock", 1, seen="w2", boundary="ash.dock@down") == []
    assert yard.company.leader("w1") == "e1"


def test_what_leaves_a_road_in_the_string_of_its_own_engine_goes_with_no_other() -> None:
    for later_s, joins in ((0.0, []), (12.0, ["e2"])):
        yard = Shunting([("w1", "ash.main"), ("e1", "ash.main"), ("e2", "ash.loop")], {"w1": "e1"}, Expecting(kept={"w1"}))
        yard.move(["e1"], SECTION)
        yard.move(["e2"], "ash.down")
        yard.t += later_s
        found = yard.move(["w1"], "ash.down")
        assert [change.engine for change in found if isinstance(change, Joined)] == joins


def test_what_runs_on_the_line_behind_its_engine_goes_with_it_where_that_has_come_out_ahead() -> None:
    standing = [("w1", "ash.main"), ("e2", "ash.main"), ("e1", "birch.main")]
    assert Shunting(standing, {"w1": "e1"}).move(["w1"], SECTION) == []
    yard = Shunting([*standing, ("w2", SECTION)], {"w2": "e1"})
    (joined,) = yard.move(["w1"], SECTION)
    assert isinstance(joined, Joined) and joined.engine == "e1", "it is coupled to what goes with that"


def test_since_when_a_wagon_goes_with_its_engine_is_known() -> None:
    yard = Shunting([("w1", "ash.dock"), ("w2", "ash.down"), ("e1", "ash.down")], {"w2": "e1"})
    yard.move(["w1"], "ash.down")
    assert yard.company.joined_t == {"w1": 1.0}, "the other always has"
    yard.company.leave("w1", "e1", 2.0, None)
    assert yard.company.joined_t == {}
