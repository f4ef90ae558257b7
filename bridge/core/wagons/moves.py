"""Freight moves as they stand: each row's state, and what each train has shifted at its present call.

Rule: kept by `bridge.core.wagons.freight` and `bridge.core.wagons.reckoning` alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.facts import Doubt
from bridge.core.plan import Move

PLAIN = 0.95  # from here a thing is said plainly
KNOWN = 0.8  # of what is less sure it is not known where it is, nor what goes with it: from virtual evenings
LIKELY = 0.6  # from here with "probably"; below nothing is built on it


@dataclass(frozen=True, slots=True)
class Due:
    """A departure that is to show what has become of a row. `train` went from its call `call` at `station` by `section` at
    host second `out_t` (journal number `n`), and had come there at `came_t`. `of`: what could not be done later, the "lift"
    or the "set-out", or neither. `silent`: so many readers further on have read the train since, and not the vehicle."""

    train: str
    call: int
    station: str
    section: str
    came_t: float
    out_t: float
    n: int | None
    of: str
    silent: int = 0


@dataclass(slots=True)
class MoveNow:
    """One row of moves.csv as it stands: `state` as in the contract; `train` has it, or did it; `due`: the last departure
    that is to show what has become of it, and has not yet."""

    move: Move
    state: str = "booked"
    train: str | None = None
    sure: float = 1.0
    said_n: int = 0
    is_out: bool = False
    """It was said to be set out where it is booked to."""
    due: Due | None = None


@dataclass(slots=True)
class Shifted:
    """A vehicle that joined or left a train at this call: whence it joined, where it was left unbooked,
    and the numbers of what was said of it."""

    road: str
    lifted_n: int = 0
    set_out_n: int = 0
    left_on: str | None = None


@dataclass
class Freight:
    """All moves, the rows of each vehicle and working, what each train has shifted at its present call. `doers`: by row, the
    workings that may do it, in the order of the roster. `unsaid`: what a departure has shown of vehicles that nothing names,
    until it is sure."""

    moves: list[MoveNow] = field(default_factory=list)
    of_vehicle: dict[str, list[int]] = field(default_factory=dict)
    of_working: dict[str, list[int]] = field(default_factory=dict)
    doers: dict[int, list[str]] = field(default_factory=dict)
    shifted: dict[str, dict[str, Shifted]] = field(default_factory=dict)
    at_departure: dict[str, list[tuple[int, str]]] = field(default_factory=dict)
    unbooked_n: dict[str, list[int]] = field(default_factory=dict)
    unsaid: dict[str, list[Doubt]] = field(default_factory=dict)
