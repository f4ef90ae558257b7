"""Lengths as people type them; what could be read in two ways is read in neither."""

from __future__ import annotations

import pytest

from bridge.folder.making.measures import length_mm, number


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("1400", 1400.0), ("1400 mm", 1400.0), ("140cm", 1400.0), ("1.4 m", 1400.0), ("1,4 M", 1400.0), ("1.400 m", 1400.0),
        ("1 400", 1400.0), ("1\N{NO-BREAK SPACE}400 mm", 1400.0), ("4 ft", 1219.2), ("48 in", 1219.2), ('48"', 1219.2),
        ("4'", 1219.2), ("1400.5", 1400.5), ("1400,25", 1400.2), (" 7 ", 7.0), ("0", 0.0),
        ("1.400", None), ("1,400", None), ("1,400 mm", None), ("", None), ("-5", None), ("12 34", None), ("1e3", None),
        ("nan", None), ("four", None), ("1.2.3", None), ("1400 miles", None), ("5 m 20", None), ("9" * 30, None),
        ("٣", None),
    ],
)  # fmt: skip
def test_a_length(typed: str, mm: float | None) -> None:
    assert length_mm(typed) == mm


@pytest.mark.parametrize(("typed", "value"), [("87", 87.0), ("43,5", 43.5), ("1 000", 1000.0), ("1 00", None), ("", None)])
def test_a_number(typed: str, value: float | None) -> None:
    assert number(typed) == value
