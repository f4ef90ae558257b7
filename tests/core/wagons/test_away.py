"""Surely at a station, or surely away from it: 0.95 as the contract has it, whichever of the places there it is at."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import pytest

from bridge.core.wagons.away import is_away, surely_at
from bridge.core.wagons.moves import LIKELY

from ..believed import Believed
from ..conftest import line

RAILWAY = line()


def believed(at: Mapping[str, float], sure: float | None = None) -> Any:
    """A state in which w1 is held to be at these places."""
    where = Believed({"w1": at}, sure={} if sure is None else {"w1": sure})
    return SimpleNamespace(railway=RAILWAY, where=where)


@pytest.mark.parametrize(
    ("at", "sure", "station"),
    [
        ({"ash.main": 0.95, "birch.main": 0.05}, None, "ash"),
        ({"ash.main": 0.94, "birch.main": 0.06}, None, None),
        ({"ash.main": 0.5, "ash.loop": 0.3, "ash.down": 0.2}, None, "ash"),  # on which of its roads does not matter
        ({"ash.main": 0.5, "ash.loop": 0.4, "ash-birch": 0.1}, None, None),
        ({"ash-birch": 1.0}, None, None),  # in a section it is at no station
        ({"off": 1.0}, None, None),
        ({}, None, None),
        ({"ash.main": 1.0}, 0.94, None),  # much that could be was let go, and is not among what is likely
        ({"ash.main": 0.5, "ash.loop": 0.5}, 0.45, None),
        ({"ash.main": 0.5, "ash.loop": 0.5}, 0.48, "ash"),
    ],
)
def test_it_is_surely_at_a_station_on_whichever_of_its_roads(at: dict[str, float], sure: float | None, station: str) -> None:
    assert surely_at(believed(at, sure), "w1") == station


@pytest.mark.parametrize(
    ("at", "sure", "is_plain", "is_likely"),
    [
        ({"ash-birch": 0.5, "birch.up": 0.3, "birch.main": 0.2}, None, True, True),  # where beyond, does not matter
        ({"ash-birch": 0.95, "ash.main": 0.05}, None, True, True),
        ({"ash-birch": 0.94, "ash.main": 0.06}, None, False, True),
        ({"ash-birch": 0.6, "ash.main": 0.2, "ash.down": 0.2}, None, False, True),
        ({"ash-birch": 0.59, "ash.main": 0.41}, None, False, False),
        ({"ash.main": 1.0}, None, False, False),
        ({}, None, False, False),
        ({"ash-birch": 1.0}, 0.94, False, True),
        ({"ash-birch": 1.0}, 0.59, False, False),
    ],
)
def test_it_is_away_where_it_is_surely_not_there(
    at: dict[str, float], sure: float | None, is_plain: bool, is_likely: bool
) -> None:
    state = believed(at, sure)
    assert is_away(state, "w1", "ash") is is_plain
    assert is_away(state, "w1", "ash", LIKELY) is is_likely
