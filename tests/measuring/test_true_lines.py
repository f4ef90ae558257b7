"""Where everything was, on an evening of three vehicles: e leaves the road `a.main` by way of the throat and comes back."""

from __future__ import annotations

import pytest

from .true_lines import OFF, TrueLines

ROWS = [
    [0.0, "a.main", ["w", "e"]],
    [0.0, "a.dock", ["x"]],
    [0.0, "a.down", []],
    [10.0, "a.down", ["e"]],
    [12.0, "a.main", ["w"]],
    [20.0, "a.main", ["w", "e"]],
    [21.0, "a.down", []],
    [30.0, "a.dock", []],
]


@pytest.fixture
def lines() -> TrueLines:
    return TrueLines(ROWS)


def test_a_line_stands_until_its_next_row(lines: TrueLines) -> None:
    assert lines.lines_at(11.9)["a.main"] == ("w", "e")
    assert lines.lines_at(12.0)["a.main"] == ("w",)
    assert lines.lines_at(99.0)["a.main"] == ("w", "e")
    assert lines.lines_at(-1.0) == {}


def test_a_vehicle_that_hangs_over_is_on_both(lines: TrueLines) -> None:
    assert lines.places_at(11.0)["e"] == {"a.main", "a.down"}
    assert lines.places_at(13.0)["e"] == {"a.down"}


def test_what_is_on_no_stretch_is_off(lines: TrueLines) -> None:
    assert lines.places_at(30.0)["x"] == OFF
    assert lines.been("nobody", 0.0, 9.0) == OFF


def test_where_it_has_been_between_two_instants(lines: TrueLines) -> None:
    assert lines.been("e", 13.0, 19.0) == {"a.down"}
    assert lines.been("e", 12.0, 20.0) == {"a.down", "a.main"}
    assert lines.been("e", 9.0, 10.0) == {"a.down", "a.main"}


def test_moved_is_who_has_wholly_left_a_stretch_even_if_it_is_back(lines: TrueLines) -> None:
    assert lines.moved_by(11.9) == set()
    assert lines.moved_by(12.0) == {"e"}
    assert lines.moved_by(30.0) == {"e", "x"}


def test_rows_of_one_instant_count_together() -> None:
    """A wagon set down by hand is at no instant nowhere."""
    lines = TrueLines([[0.0, "a.main", ["w"]], [0.0, "a.dock", []], [5.0, "a.main", []], [5.0, "a.dock", ["w"]]])
    assert lines.been("w", 0.0, 9.0) == {"a.main", "a.dock"}
