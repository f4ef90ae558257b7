"""Stock and plan: vehicles, workings with their calls, freight moves, and where everything stands at the start.

Rule: a plan never changes once made. Times are seconds of the session clock since midnight and may pass 24 hours. Roads
are full ids ("station.road").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

from bridge.core.plant import Plant


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Engine, wagon, brake van or coach. `detected`: it works track detectors; `tail`: it carries what a tail
    treadle sees."""

    id: str
    kind: str
    length_mm: float
    tags: tuple[str, ...] = ()
    detected: bool = True
    tail: bool = False
    klass: str = ""
    painted: str = ""
    home: str | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Call:
    """A working at a station; `index` counts its calls from 0."""

    index: int
    station: str
    road: str
    arrive_s: float | None
    depart_s: float | None
    wait_for: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Working:
    """One train's booked journey; `rake` are the vehicles with it at its first call, engine end first."""

    id: str
    kind: str
    engine: str
    calls: tuple[Call, ...]
    rake: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Move:
    """One vehicle booked from one road to another. `index` counts the rows from 0; `call` counts the working's calls at that
    station from 1; both `working` and `call` may be None (any that can)."""

    index: int
    vehicle: str
    from_road: str
    to_road: str
    working: str | None = None
    call: int | None = None
    load: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a vehicle stands at the start: `place` a road, throat or section, `order` 1 nearest its end 0."""

    vehicle: str
    place: str
    order: int


@dataclass(frozen=True, slots=True)
class Passage:
    """A working booked through a section, from one station to another; `call` (from 0) is the call that it leaves.

    None where no time tells when it leaves the one, or comes to the other; of a call with one time, that is both.
    """

    working: str
    call: int
    start: str
    goal: str
    leaves_s: float | None
    comes_s: float | None


@dataclass(frozen=True)
class Railway:
    """The content of one railway folder: what is in force for a session."""

    plant: Plant
    stock: Mapping[str, Vehicle]
    standing: tuple[Standing, ...]
    workings: Mapping[str, Working]
    moves: tuple[Move, ...]
    notes: Mapping[str, str] = field(default_factory=dict)

    def passes_both(self, working: Working, move: Move) -> bool:
        """True where a working calls where a move begins and, then or at that same call, where it ends."""
        start, end = (self.plant.roads[road].station for road in (move.from_road, move.to_road))
        first = next((call.index for call in working.calls if call.station == start), None)
        return first is not None and any(call.index >= first and call.station == end for call in working.calls)

    def may_do(self, move: Move) -> tuple[str, ...]:
        """The workings that may do a row: the one that it names, else every one that passes both its stations."""
        if move.working is not None:
            return (move.working,)
        return tuple(working.id for working in self.workings.values() if self.passes_both(working, move))

    @cached_property
    def begins_with(self) -> dict[str, tuple[Working, ...]]:
        """By vehicle: the workings of which it is the engine, or in the rake at the first call."""
        found: dict[str, list[Working]] = {}
        for working in self.workings.values():
            for vehicle in dict.fromkeys((*working.rake, working.engine)):
                found.setdefault(vehicle, []).append(working)
        return {vehicle: tuple(rows) for vehicle, rows in found.items()}

    @cached_property
    def passages(self) -> dict[str, tuple[Passage, ...]]:
        """By section: every working that is booked through it, once for each time."""
        found: dict[str, list[Passage]] = {}
        for working in self.workings.values():
            for here, then in pairwise(working.calls):
                section = self.plant.section_between(here.station, then.station)
                if section is not None:
                    leaves_s = here.depart_s if here.depart_s is not None else here.arrive_s
                    comes_s = then.arrive_s if then.arrive_s is not None else then.depart_s
                    row = Passage(working.id, here.index, here.station, then.station, leaves_s, comes_s)
                    found.setdefault(section.id, []).append(row)
        return {section: tuple(rows) for section, rows in found.items()}
