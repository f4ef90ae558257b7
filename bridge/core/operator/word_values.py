"""Each word an operator may tell, as a value: what was told, its ids as they were written.

Rule: a value here is well formed; whether its ids mean anything on this railway is not known here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Begin:
    """The session begins; `clock_s` seconds since midnight."""

    clock_s: float


@dataclass(frozen=True, slots=True)
class StopClock:
    """The session clock stops."""


@dataclass(frozen=True, slots=True)
class GoOn:
    """The session clock goes on."""


@dataclass(frozen=True, slots=True)
class End:
    """The session ends."""


@dataclass(frozen=True, slots=True)
class Give:
    """A train is given a section; `how` None (what its rule asks for), "ticket" or "assisting"."""

    section: str
    train: str
    how: str | None = None


@dataclass(frozen=True, slots=True)
class Return:
    """A train gives a section back."""

    section: str
    train: str


@dataclass(frozen=True, slots=True)
class Depart:
    """A train has departed."""

    train: str


@dataclass(frozen=True, slots=True)
class Arrive:
    """A train has come to a road."""

    train: str
    road: str


@dataclass(frozen=True, slots=True)
class Lifts:
    """A train lifts a vehicle."""

    train: str
    vehicle: str


@dataclass(frozen=True, slots=True)
class SetsOut:
    """A train leaves a vehicle on a road."""

    train: str
    vehicle: str
    road: str


@dataclass(frozen=True, slots=True)
class Stands:
    """A correction by eye; `place` a road, throat, section or "off"; `order` counts from 1 at the up end."""

    vehicle: str
    place: str
    order: int | None = None


@dataclass(frozen=True, slots=True)
class Tag:
    """A vehicle carries a tag (upper-case hexadecimal). `vehicle` is None only where an earlier word is taken back."""

    tag: str
    vehicle: str | None


@dataclass(frozen=True, slots=True)
class Engine:
    """Another engine takes a working."""

    working: str
    vehicle: str


@dataclass(frozen=True, slots=True)
class Cancel:
    """A working does not run."""

    working: str


@dataclass(frozen=True, slots=True)
class Extra:
    """A working that the timetable lacks."""

    engine: str
    name: str


@dataclass(frozen=True, slots=True)
class Acknowledge:
    """Somebody has seen an irregularity."""

    id: str


@dataclass(frozen=True, slots=True)
class Explain:
    """The operator's reason for an irregularity."""

    id: str
    reason: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What an irregularity proved to be: "real", "false" or "mine"."""

    id: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Mute:
    """A detector counts as unknown from here."""

    detector: str


@dataclass(frozen=True, slots=True)
class Unmute:
    """A detector counts again."""

    detector: str


@dataclass(frozen=True, slots=True)
class Undo:
    """An earlier word is taken back; `n` its journal number."""

    n: int


Word = (
    Begin
    | StopClock
    | GoOn
    | End
    | Give
    | Return
    | Depart
    | Arrive
    | Lifts
    | SetsOut
    | Stands
    | Tag
    | Engine
    | Cancel
    | Extra
    | Acknowledge
    | Explain
    | Verdict
    | Mute
    | Unmute
    | Undo
)
