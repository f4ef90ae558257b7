"""Shunting on paper: roads as stacks seen from the end at which the engine works, and what it can do with them.

Rule: an engine takes vehicles off the near end of a road, and puts the last ones of its own rake on one. Nothing here is
hoped for: a movement for which neck or road is too short is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """`count` vehicles taken off a road and drawn out (`pull`), or the last `count` of the rake set back onto it."""

    road: str
    count: int
    pull: bool


@dataclass(frozen=True, slots=True)
class Yard:
    """One end of a station. `stacks`: the vehicles on each road, nearest first, the engine that works them left out.

    `neck_mm` is the room in the neck beside the engine; `room_mm` what fits on each road.
    """

    stacks: Mapping[str, tuple[str, ...]]
    room_mm: Mapping[str, float]
    length_mm: Mapping[str, float]
    neck: str
    neck_mm: float

    def length_of(self, vehicles: Iterable[str]) -> float:
        """Over buffers, nothing between."""
        return sum(self.length_mm[vehicle] for vehicle in vehicles)


class CannotError(Exception):
    """Something that cannot be done, in plain words; `vehicle` is the one it fails for, where it is one."""

    def __init__(self, reason: str, vehicle: str | None = None) -> None:
        super().__init__(reason)
        self.vehicle = vehicle


class Sheet:
    """A shunt worked out step by step. Raises `CannotError` where a step cannot be."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        self.stacks = dict(yard.stacks)
        self.rake: tuple[str, ...] = ()
        self.steps: list[Step] = []
        self.handled = 0

    def fits(self, road: str, vehicles: Sequence[str]) -> bool:
        """Whether these fit on a road beside what stands there now."""
        yard = self.yard
        return yard.length_of(vehicles) + yard.length_of(self.stacks[road]) <= yard.room_mm[road] + 1e-6

    def pull(self, road: str, count: int) -> None:
        """Take so many off a road and draw them out."""
        if count == 0:
            return
        yard, taken = self.yard, self.stacks[road][:count]
        rake = self.rake + taken
        if yard.length_of(rake) > yard.neck_mm + 1e-6:
            raise CannotError(
                f"{yard.neck} has room for {max(yard.neck_mm, 0.0):.0f} mm behind the engine, and {taken[-1]} with what is"
                f" drawn out before it is {yard.length_of(rake):.0f} mm",
                taken[-1],
            )
        self.rake, self.stacks[road] = rake, self.stacks[road][count:]
        self._note(Step(road, count, True))

    def push(self, road: str, count: int) -> None:
        """Set the last of the rake back onto a road."""
        if count == 0:
            return
        group = self.rake[-count:]
        self._refuse_too_many(road, group)
        self.rake, self.stacks[road] = self.rake[:-count], group + self.stacks[road]
        self._note(Step(road, count, False))

    def _refuse_too_many(self, road: str, group: Sequence[str]) -> None:
        yard = self.yard
        taken_mm = yard.length_of(self.stacks[road])
        for vehicle in reversed(group):  # the last goes in first
            if taken_mm + yard.length_mm[vehicle] > yard.room_mm[road] + 1e-6:
                raise CannotError(
                    f"on {road} there is no room for {vehicle}: of {yard.room_mm[road]:.0f} mm, {taken_mm:.0f} mm are taken",
                    vehicle,
                )
            taken_mm += yard.length_mm[vehicle]

    def _note(self, step: Step) -> None:
        self.steps.append(step)
        self.handled += step.count

    def put_back(self, goes: Callable[[str], str]) -> list[tuple[str, int]]:
        """Set back the whole rake, group by group, each to where it goes; the groups in that order."""
        groups = []
        while self.rake:
            road = goes(self.rake[-1])
            count = next((n for n, v in enumerate(reversed(self.rake)) if goes(v) != road), len(self.rake))
            self.push(road, count)
            groups.append((road, count))
        return groups
