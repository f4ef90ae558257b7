"""Times as messages name them."""

from __future__ import annotations

from math import inf

import pytest

from bridge.folder.clock import clock, span


def test_seconds_only_where_there_are_any() -> None:
    assert [clock(t_s) for t_s in (0, 19 * 3600 + 300, 24 * 3600 + 301)] == ["00:00", "19:05", "24:05:01"]


@pytest.mark.parametrize(
    ("from_s", "to_s", "expected"),
    [(0, 60, " from 00:00 to 00:01"), (-inf, 60, " until 00:01"), (60, inf, " from 00:01 on"), (-inf, inf, " all evening")],
)
def test_from_when_to_when(from_s: float, to_s: float, expected: str) -> None:
    assert span(from_s, to_s) == expected
