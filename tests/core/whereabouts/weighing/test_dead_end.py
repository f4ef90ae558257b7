"""A dead-end road is last in, first out: the orders that a train can be brought into by one such road."""

from __future__ import annotations

from itertools import combinations, permutations

import pytest

from bridge.core.plant import Boundary
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground

from .yards import plant

ORDERS = {1: 1, 2: 2, 3: 5, 4: 14, 5: 42, 6: 132}
"""Of so many wagons: the numbers of orders that one stack can make, Knuth, The Art of Computer Programming, vol. 1, section
2.2.1, exercises 2 to 5 (from memory)."""
PLANT = plant({"ash.dock": ("siding", "down")}, [("ash.down", "birch.up"), ("ash.down", "cedar.up")])
FROM, DOCK, TO = (PLANT.boundaries[b] for b in ("ash-birch@ash", "ash.dock@down", "ash-cedar@ash"))


def worked(stands: Arrangement, last: str, one: Boundary, other: Boundary) -> Arrangement:
    """A cut is taken in by one boundary as far as a vehicle, and all of it out by another."""
    moved = stands.copy()
    moved.cross((*moved.ahead(last, one.end), last), one, False, 1.0)
    last = moved.line(one.throat)[-1 if other.throat_end == 0 else 0]
    moved.cross((*moved.ahead(last, other.throat_end), last), other, True, 1.0)
    return moved


def orders(wagons: int) -> set[tuple[str, ...]]:
    """All orders on the far section, the first that got there first, after a train from the near one has been worked through
    the siding, in cuts of any size."""
    train = tuple("abcdef"[:wagons])
    start = Arrangement(Ground())
    for vehicle in reversed(train):
        start.put(vehicle, "ash-birch", 0)
    todo, seen, done = [start], set(), set()
    while todo:
        stands = todo.pop()
        lines = tuple(stands.line(stretch) for stretch in ("ash-birch", "ash.dock", "ash-cedar"))
        if lines in seen:
            continue
        seen.add(lines)
        if len(lines[2]) == wagons:
            done.add(lines[2][::-1])
        todo += [worked(stands, vehicle, FROM, DOCK) for vehicle in lines[0]]
        todo += [worked(stands, vehicle, DOCK, TO) for vehicle in lines[1]]
    return done


@pytest.mark.parametrize("wagons", ORDERS)
def test_one_dead_end_road_makes_as_many_orders_as_one_stack(wagons: int) -> None:
    assert len(orders(wagons)) == ORDERS[wagons]


def test_no_three_come_out_as_third_first_second() -> None:
    """All orders but those can be made: the same section of Knuth, exercise 5 (from memory)."""
    found = orders(5)
    for order in permutations("abcde"):
        barred = any(b < c < a for a, b, c in combinations(order, 3))
        assert (order in found) is not barred
