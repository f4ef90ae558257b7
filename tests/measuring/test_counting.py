"""Counts and calibration, on figures worked out by hand."""

from __future__ import annotations

import pytest

from .counting import BINS, Calibration, Count, added


def test_counts_of_one_name_are_added_and_shown_with_their_share() -> None:
    whole = added([{"one": Count(1, 2)}, {"one": Count(2, 2), "other": Count(0, 1)}])
    assert whole == {"one": Count(3, 4), "other": Count(0, 1)}
    assert str(whole["one"]) == "3/4 75.0 %"
    assert str(Count()) == "-"
    assert Count().share is None


@pytest.mark.parametrize(
    ("sure", "name"),
    [
        (1.0, ">= 0.999"),
        (0.999, ">= 0.999"),
        (0.9989, "0.99 to 0.999"),
        (0.95, "0.95 to 0.99"),
        (0.9, "0.9 to 0.95"),
        (0.8, "0.8 to 0.9"),
        (0.5, "0.5 to 0.8"),
        (0.49, "< 0.5"),
        (0.0, "< 0.5"),
    ],
)
def test_a_statement_belongs_to_the_first_bin_that_it_reaches(sure: float, name: str) -> None:
    whole = Calibration()
    whole.take(sure, True)
    assert [called for (_, called), each in zip(BINS, whole.bins, strict=True) if each.n] == [name]


def test_the_scores_of_four_statements() -> None:
    """Two at 1.0, one of them true; two at 0.6, one of them true: squares 0 + 1 + 0.16 + 0.36; |2 - 1| + |1.2 - 1|."""
    whole, other = Calibration(), Calibration()
    whole.take(1.0, True)
    whole.take(0.6, False)
    other.take(1.0, False)
    other.take(0.6, True)
    whole.add(other)
    assert whole.n == 4
    assert whole.brier == pytest.approx(1.52 / 4)
    assert whole.error == pytest.approx(1.2 / 4)


def test_of_no_statements_there_is_no_score() -> None:
    assert (Calibration().brier, Calibration().error) == (None, None)
