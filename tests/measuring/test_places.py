"""Right stretch and right order, on a station of two roads and a throat."""

from __future__ import annotations

from .counting import Count
from .engine import Held
from .places import believed_lines, order, vehicles

LINES = {"a.main": ("w", "v", "e"), "a.dock": ("x", "y"), "a.down": ("e",)}
"""e hangs out of the main road into the throat."""
PLACES = {"w": {"a.main"}, "v": {"a.main"}, "e": {"a.main", "a.down"}, "x": {"a.dock"}, "y": {"a.dock"}}
TRUE = {vehicle: frozenset(where) for vehicle, where in PLACES.items()}
ROADS = ("a.main", "a.dock")


def held(**lines: str) -> dict[str, Held]:
    """What is believed: each place to its vehicles, one letter each."""
    return {v: Held(f"a.{place}", n, 1.0) for place, line in lines.items() for n, v in enumerate(line, 1)}


def test_a_vehicle_that_hangs_over_is_right_on_either_side() -> None:
    for told in (held(main="wve", dock="xy"), held(main="wv", down="e", dock="xy")):
        assert vehicles(told, TRUE, sorted(TRUE)) == Count(5, 5)
        assert order(told, LINES, TRUE, ROADS) == {"lines": Count(2, 2), "pairs": Count(2, 2)}


def test_a_vehicle_on_another_stretch_or_unknown_is_wrong() -> None:
    told = held(main="wv", dock="xe")
    assert vehicles(told, TRUE, sorted(TRUE)) == Count(3, 5)
    assert vehicles(told, TRUE, ["w", "v"]) == Count(2, 2)


def test_a_stranger_spoils_a_line_and_the_pair_between_which_it_stands() -> None:
    assert order(held(main="wve", dock="xqy"), LINES, TRUE, ROADS) == {"lines": Count(1, 2), "pairs": Count(1, 2)}
    assert order(held(main="wve", dock="xyq"), LINES, TRUE, ROADS) == {"lines": Count(1, 2), "pairs": Count(2, 2)}


def test_the_wrong_way_round_is_wrong() -> None:
    assert order(held(main="vwe", dock="yx"), LINES, TRUE, ROADS) == {"lines": Count(0, 2), "pairs": Count(0, 2)}


def test_what_hangs_over_counts_where_it_is_believed_in_the_line_and_not_where_it_is_wrong() -> None:
    assert order(held(main="ewv", dock="xy"), LINES, TRUE, ROADS)["lines"] == Count(1, 2)
    assert order(held(main="wv", dock="xye"), LINES, TRUE, ROADS)["lines"] == Count(0, 2)


def test_how_many_are_counted_depends_on_the_truth_alone() -> None:
    assert order({}, LINES, TRUE, ROADS) == {"lines": Count(0, 2), "pairs": Count(0, 2)}
    one = {"a.main": ("w", "e")}
    assert order({}, one, TRUE, ROADS) == {"lines": Count(), "pairs": Count()}, "only one stands wholly there"


def test_a_believed_line_goes_by_the_orders() -> None:
    told = {"w": Held("a.main", 2, 1.0), "v": Held("a.main", 1, 1.0), "x": Held("a.main", None, 0.1)}
    assert believed_lines(told) == {"a.main": ("v", "w", "x")}
