"""What speaks for a movement and against it: the engine that takes it, whence it came, and whither it is bound."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.whereabouts.weighing import moving
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground
from bridge.core.whereabouts.weighing.yard import Yard

from .yards import Expecting, plant, stock

ROADS = {"ash.main": ("running", "up down"), "ash.dock": ("siding", "down"), "birch.main": ("running", "up")}
PLANT = plant(ROADS, [("ash.down", "birch.up"), ("cedar.down", "ash.up")])
YARD = Yard(PLANT, stock("e1", "e2", "w1"))
DOWN, UP = "ash-birch", "cedar-ash"
MOUTH, LIMIT = PLANT.boundaries["ash.dock@down"], PLANT.boundaries["ash-birch@ash"]


def standing(*places: tuple[str, str]) -> Arrangement:
    stands = Arrangement(Ground())
    for vehicle, place in places:
        stands.put(vehicle, place, 1)
    return stands


def drawn_out(prior: Expecting, *others: tuple[str, str]) -> float:
    """A wagon comes out of the dock."""
    return moving.moved_by(YARD, prior, standing(("w1", "ash.dock"), *others), ("w1",), MOUTH, outward=False)


def test_the_nearer_an_engine_the_likelier_it_takes_a_wagon() -> None:
    beside, beyond, nowhere = drawn_out(Expecting(), ("e1", "ash.down")), drawn_out(Expecting(), ("e1", DOWN)), "cedar.down"
    assert beside > beyond > drawn_out(Expecting(), ("e1", nowhere))


def test_an_engine_takes_what_goes_with_it_or_with_none_rather_than_what_goes_with_another() -> None:
    for place in ("ash.down", DOWN):
        own, none, others = (drawn_out(Expecting(leads=leads), ("e1", place)) for leads in ({"w1": "e1"}, {}, {"w1": "e2"}))
        assert own == none > others
        assert drawn_out(Expecting(leads={"w1": "e2"}), ("e1", place), ("e2", place)) == own


def over_limit(prior: Expecting, group: Sequence[str], *, last: bool | None, outward: bool, after_s: float = 3.0) -> float:
    """A group goes over the section end, over which something went `last` so many seconds before."""
    stands = standing(("e1", "ash.down"))
    if last is not None:
        stands.note("e1", LIMIT, last, 100.0)
    return moving.turns_back(YARD, prior, stands, group, LIMIT, outward, 100.0 + after_s)


def test_a_train_seldom_goes_back_over_a_section_end_where_it_has_just_come_from() -> None:
    for outward in (True, False):
        back = over_limit(Expecting(), ("e1",), last=not outward, outward=outward)
        assert back < over_limit(Expecting(), ("e1",), last=outward, outward=outward)
        assert back < over_limit(Expecting(), ("e1",), last=not outward, outward=outward, after_s=600.0)
        assert back < over_limit(Expecting(), ("e1",), last=None, outward=outward)


def test_at_the_mouth_of_a_road_it_goes_to_and_fro_as_it_likes() -> None:
    stands = standing(("e1", "ash.down"))
    stands.note("e1", MOUTH, True, 100.0)
    assert moving.turns_back(YARD, Expecting(), stands, ("e1",), MOUTH, False, 103.0) == 0.0


def test_a_train_goes_out_where_it_is_booked_and_is_seldom_propelled_out_elsewhere() -> None:
    leads = {"e1": "e1", "w1": "e1"}
    booked, other = Expecting(leads=leads, next_sections={"e1": DOWN}), Expecting(leads=leads, next_sections={"e1": UP})
    as_booked, drawn, propelled = (
        over_limit(prior, group, last=None, outward=True)
        for prior, group in ((booked, ("e1", "w1")), (other, ("e1", "w1")), (other, ("w1", "e1")))
    )
    assert as_booked > drawn > propelled
    assert over_limit(other, ("w1", "e1"), last=None, outward=False) == as_booked


def test_an_engine_leaves_a_road_by_the_end_that_leads_where_it_is_booked() -> None:
    given = Expecting(next_sections={"e1": DOWN}, authorities={("e1", DOWN)})
    asked = Expecting(next_sections={"e1": DOWN})
    way = moving.bound_for(given, "e1", "ash.down", YARD)
    assert way > moving.bound_for(asked, "e1", "ash.down", YARD) > moving.bound_for(given, "e1", "ash.up", YARD)


def test_an_engine_goes_into_the_section_that_it_is_booked_into_and_has_been_given() -> None:
    prior = Expecting(next_sections={"e1": DOWN}, authorities={("e1", DOWN)})
    given = moving.booked(YARD, prior, "e1", DOWN)
    assert given > moving.booked(YARD, Expecting(next_sections={"e1": DOWN}), "e1", DOWN)
    assert given > moving.booked(YARD, prior, "e1", UP)
