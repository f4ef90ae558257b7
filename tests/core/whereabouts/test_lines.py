"""Vehicles on their stretches: none is lost or doubled, none passes another, and what crossed can cross back."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plant import Boundary, Plant
from bridge.core.whereabouts.lines import OFF, Lines

from ..conftest import line

VEHICLES = tuple("abcdefgh")


@cache
def plant() -> Plant:
    return line().plant


STRETCHES = sorted(line().plant.at_stretch)
BOUNDARIES = sorted(line().plant.boundaries)


@st.composite
def standing(draw: st.DrawFn) -> Lines:
    """Some vehicles on some stretches, the others off."""
    lines = Lines(plant())
    for vehicle in draw(st.permutations(VEHICLES)):
        place = draw(st.sampled_from([*STRETCHES, OFF]))
        lines.put(vehicle, place, draw(st.none() | st.integers(0, 9)))
    return lines


def picture(lines: Lines) -> dict[str, list[str]]:
    """Every stretch that holds something."""
    return {stretch: list(row) for stretch, row in lines.on.items() if row}


def assert_whole(lines: Lines) -> None:
    """Every vehicle stands once, where it is said to be."""
    on = [vehicle for row in lines.on.values() for vehicle in row]
    assert sorted(on) == sorted(vehicle for vehicle, place in lines.at.items() if place != OFF)
    for vehicle, place in lines.at.items():
        if place != OFF:
            assert lines.on[place][(lines.index(vehicle) or 0) - 1] == vehicle
        else:
            assert lines.index(vehicle) is None


def sides(boundary: Boundary, outward: bool) -> tuple[str, int, str, int]:
    """(whence, its end, where to, its end)."""
    throat, outer = (boundary.throat, boundary.throat_end), (boundary.outer, boundary.end)
    return (*throat, *outer) if outward else (*outer, *throat)


@given(lines=standing(), moves=st.lists(st.tuples(st.sampled_from(VEHICLES), st.sampled_from(BOUNDARIES), st.booleans())))
def test_vehicles_are_never_lost_or_doubled(lines: Lines, moves: list[tuple[str, str, bool]]) -> None:
    for vehicle, boundary, outward in moves:
        lines.cross(vehicle, plant().boundaries[boundary], outward)
        assert set(lines.at) == set(VEHICLES)
        assert_whole(lines)


@given(lines=standing(), vehicle=st.sampled_from(VEHICLES), where=st.sampled_from(BOUNDARIES), outward=st.booleans())
def test_nobody_passes_anybody(lines: Lines, vehicle: str, where: str, outward: bool) -> None:
    """Both stretches laid end to end at the boundary read the same before and after."""
    boundary = plant().boundaries[where]
    start, start_end, goal, goal_end = sides(boundary, outward)

    def end_to_end() -> list[str]:
        behind, ahead = list(lines.on.get(start, [])), list(lines.on.get(goal, []))
        return (behind if start_end == 1 else behind[::-1]) + (ahead if goal_end == 0 else ahead[::-1])

    before, others = end_to_end(), {s: row for s, row in picture(lines).items() if s not in (start, goal)}
    lines.cross(vehicle, boundary, outward)
    assert end_to_end() == before
    assert {s: row for s, row in picture(lines).items() if s not in (start, goal)} == others


@given(lines=standing(), vehicle=st.sampled_from(VEHICLES), where=st.sampled_from(BOUNDARIES), outward=st.booleans())
def test_what_crossed_can_cross_back(lines: Lines, vehicle: str, where: str, outward: bool) -> None:
    boundary, before = plant().boundaries[where], picture(lines)
    crossed = lines.cross(vehicle, boundary, outward)
    if crossed:
        assert crossed[-1] == vehicle
        assert lines.cross(crossed[0], boundary, not outward) == crossed[::-1]
    assert picture(lines) == before


@given(lines=standing(), vehicle=st.sampled_from(VEHICLES), where=st.sampled_from(BOUNDARIES), outward=st.booleans())
def test_only_who_stands_there_crosses(lines: Lines, vehicle: str, where: str, outward: bool) -> None:
    boundary = plant().boundaries[where]
    start, start_end, _, _ = sides(boundary, outward)
    there = lines.at[vehicle] == start
    before = [*lines.ahead(vehicle, start_end), vehicle] if there else []
    assert lines.cross(vehicle, boundary, outward) == before


@given(lines=standing(), vehicle=st.sampled_from(VEHICLES), place=st.sampled_from(STRETCHES), index=st.integers(-3, 12))
def test_whoever_is_put_down_stands_there(lines: Lines, vehicle: str, place: str, index: int) -> None:
    others = [each for each in lines.on.get(place, []) if each != vehicle]
    lines.put(vehicle, place, index)
    assert_whole(lines)
    assert lines.at[vehicle] == place
    assert [each for each in lines.on[place] if each != vehicle] == others
    assert lines.on[place].index(vehicle) == max(0, min(index, len(others)))


@pytest.mark.parametrize("end", [0, 1])
def test_the_outermost_is_whoever_was_put_there_last(end: int) -> None:
    lines = Lines(plant())
    assert lines.outermost("ash.main", end) is None
    for vehicle in "abc":
        lines.put_at_end(vehicle, "ash.main", end)
    assert lines.outermost("ash.main", end) == "c"
    assert lines.outermost("ash.main", 1 - end) == "a"
    assert lines.ahead("a", end) == ["c", "b"]


def test_the_way_from_stretch_to_stretch() -> None:
    lines = Lines(plant())

    def way(*told: str) -> list[str]:
        return [boundary.id for boundary in lines.path(*told[:2], shut=told[2:])]

    assert way("ash.main", "ash.dock") == ["ash.main@down", "ash.dock@down"]
    assert way("ash.main", "birch.main") == ["ash.main@down", "ash-birch@ash", "ash-birch@birch", "birch.main@up"]
    assert way("ash.down", "ash.down") == []
    assert way("ash.main", "birch.main", "ash-birch") == []
    assert way("ash.main", "ash.loop", "ash.down") == ["ash.main@up", "ash.loop@up"]
    assert way("nowhere", "ash.main") == way("ash.main", "nowhere") == []


@settings(max_examples=60)
@given(start=st.sampled_from(STRETCHES), goal=st.sampled_from(STRETCHES))
def test_a_way_joins_on_at_every_boundary(start: str, goal: str) -> None:
    here = start
    for boundary in Lines(plant()).path(start, goal):
        assert here in (boundary.outer, boundary.throat)
        here = boundary.throat if here == boundary.outer else boundary.outer
    assert here == goal
