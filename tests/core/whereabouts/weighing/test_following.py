"""What goes with an engine has gone where it went: a train that departs, one that comes out, and one that is done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.core.whereabouts.weighing.following import Departing, Gathering, Resting
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Expecting, plant, set_down, stock

SECTION, LIMIT = "ash-birch", "ash-birch@ash"
ROADS = {
    "ash.main": ("running", "down"),
    "ash.dock": ("siding", "down"),
    "ash.pit": ("siding", "down"),
    "birch.main": ("running", "up"),
}


def yard(readers: Iterable[str] = ()) -> Yard:
    return Yard(plant(ROADS, [("ash.down", "birch.up")], readers), stock("e1", "w1", "w2", "w3"))


def departed(standing: Sequence[tuple[str, str]], prior: Expecting, readers: Iterable[str] = ()) -> dict[str, float]:
    """Where the first wagon may be when the engine's train has departed."""
    departing = Departing(yard(readers), prior, "e1", SECTION, ["w1"], 5.0)
    return exactly.places(exactly.chains([set_down(standing), departing.explain]), "w1")


def test_what_goes_with_an_engine_has_followed_it_unless_it_is_booked_to_stay() -> None:
    for start in ("ash.down", "ash.main"):
        standing = [("w1", start), ("e1", SECTION)]
        followed, booked = departed(standing, Expecting()), departed(standing, Expecting(goals={"w1": "ash.dock"}))
        assert followed[SECTION] > 0.9
        assert booked[SECTION] < booked[start]


def test_it_has_followed_in_the_order_in_which_it_stood() -> None:
    standing = [("w3", "ash.main"), ("w2", "ash.main"), ("w1", "ash.down"), ("e1", SECTION)]
    departing = Departing(yard(), Expecting(), "e1", SECTION, ["w1", "w2", "w3"], 5.0)
    found = exactly.lines(exactly.chains([set_down(standing), departing.explain]), SECTION)
    assert max(found, key=lambda line: found[line]) == ("w3", "w2", "w1", "e1")


def test_where_a_reader_would_have_told_of_it_it_has_followed_less_likely() -> None:
    standing = [("w1", "ash.down"), ("e1", SECTION)]
    assert departed(standing, Expecting(), [LIMIT])[SECTION] < departed(standing, Expecting())[SECTION]


def test_a_road_that_still_says_occupied_speaks_against_it_unless_something_else_stands_there() -> None:
    prior = Expecting(states={"ash.main": "occupied"})
    alone = [("w1", "ash.main"), ("e1", SECTION)]
    beside = [("w2", "ash.main"), *alone]
    assert departed(alone, prior)[SECTION] < departed(beside, prior)[SECTION]


def came_out(standing: Sequence[tuple[str, str]], *, proved: bool) -> dict[tuple[str, ...], float]:
    """The lines that may stand at the engine's road when the section is clear behind its train."""
    gathering = Gathering(yard(), Expecting(), "e1", SECTION, ["e1", "w1"], 5.0, proved=proved)
    return exactly.lines(exactly.chains([set_down(standing), gathering.explain]), SECTION)


def test_a_train_has_brought_all_of_it_and_the_surer_where_the_section_says_clear() -> None:
    standing = [("w1", SECTION), ("e1", "birch.main")]
    believed, proved = came_out(standing, proved=False), came_out(standing, proved=True)
    assert 0.9 < believed[()] < proved[()]


def test_what_ran_before_a_train_on_the_line_has_come_out_and_what_ran_behind_it_need_not_have() -> None:
    standing = [("w2", SECTION), ("w1", SECTION), ("w3", SECTION), ("e1", "birch.main")]
    found = came_out(standing, proved=False)
    assert max(found, key=lambda line: found[line]) == ("w2",)


def test_what_came_out_behind_an_engine_stands_with_it_where_the_throat_says_clear() -> None:
    standing = [("w1", SECTION), ("e1", "birch.main")]
    for state, place in (("clear", "birch.main"), ("occupied", "birch.up"), ("unwatched", "birch.up")):
        prior = Expecting(states={"birch.up": state})
        gathering = Gathering(yard(), prior, "e1", SECTION, ["e1", "w1"], 5.0, proved=True)
        found = exactly.places(exactly.chains([set_down(standing), gathering.explain]), "w1")
        assert max(found, key=lambda each: found[each]) == place


def rested(prior: Expecting, readers: Iterable[str] = ()) -> list[dict[str, float]]:
    """Where two wagons may be that a train was to take from the dock to the pit."""
    resting = Resting(yard(readers), prior, {"w1": "ash.pit", "w2": "ash.pit"})
    standing = [("w1", "ash.dock"), ("w2", "ash.dock"), ("e1", "ash.main")]
    found = exactly.chains([set_down(standing), resting.explain])
    assert len(found) == 2, "all of it has been done, or nothing has"
    return [exactly.places(found, vehicle) for vehicle in ("w1", "w2")]


def test_what_a_train_was_to_do_and_nothing_would_have_told_of_has_mostly_been_done() -> None:
    for places in rested(Expecting()):
        assert places["ash.pit"] > places["ash.dock"]


def test_what_may_have_been_taken_off_the_layout_is_not_put_where_it_was_booked_to() -> None:
    resting = Resting(yard(()), Expecting(), {"w1": "ash.pit"})
    (row,) = exactly.chains([set_down([("w1", "off"), ("e1", "ash.main")]), resting.explain])
    assert row[1].place("w1") == "off"


def test_what_a_reader_or_a_track_detector_would_have_told_of_has_hardly_been_done() -> None:
    for prior, readers in (
        (Expecting(), ["ash.dock@down"]),
        (Expecting(), ["ash.pit@down"]),
        (Expecting(states={"ash.pit": "clear"}), []),
    ):
        for places in rested(prior, readers):
            assert places["ash.pit"] < places["ash.dock"]
