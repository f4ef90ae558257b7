"""Ways between stretches, whatever was asked for before; and ids that are told from each other."""

from __future__ import annotations

from collections import deque
from itertools import product
from random import Random

import pytest

from bridge.core.plant import Boundary
from bridge.core.whereabouts.weighing.crossing import BOUNDARY, VEHICLE
from bridge.core.whereabouts.weighing.yard import FURTHEST, Yard

from .yards import plant, stock

PLANT = plant(
    {
        "ash.main": ("running", "up down"),
        "ash.loop": ("loop", "up down"),
        "ash.dock": ("siding", "down"),
        "birch.main": ("running", "up down"),
        "birch.loop": ("loop", "up down"),
        "cedar.main": ("running", "up down"),
        "dale.main": ("running", "up"),
    },
    [("ash.down", "birch.up"), ("birch.down", "cedar.up"), ("cedar.down", "dale.up"), ("cedar.down", "ash.up")],
)


def plainly(start: str, goal: str, shut: str) -> tuple[Boundary, ...] | None:
    """The shortest way, the first of equals in the order of the plant, by a search of its own."""
    ways: dict[str, tuple[Boundary, ...]] = {start: ()}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        for boundary in PLANT.at_stretch[here]:
            there = boundary.throat if here == boundary.outer else boundary.outer
            if boundary.id != shut and there not in ways and len(ways[here]) < FURTHEST:
                ways[there] = (*ways[here], boundary)
                queue.append(there)
    return ways.get(goal)


@pytest.mark.parametrize("seed", range(3))
def test_a_way_is_the_shortest_in_whatever_order_ways_are_asked_for(seed: int) -> None:
    yard, asked = Yard(PLANT, stock("e1")), list(product(PLANT.at_stretch, PLANT.at_stretch, ("", *PLANT.boundaries)))
    Random(seed).shuffle(asked)
    found = [yard.way(*each) for each in asked]
    assert found == [plainly(*each) for each in asked]
    assert None in found


def test_ids_of_stretches_boundaries_and_vehicles_are_told_from_each_other() -> None:
    assert all(BOUNDARY in boundary for boundary in PLANT.boundaries)
    assert not any(BOUNDARY in stretch or stretch.startswith(VEHICLE) for stretch in PLANT.at_stretch)
