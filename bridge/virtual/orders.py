"""What a crew can be told to do, and what it can wait for: the script as values.

Rule: an order says what, never how long; the evening works that out. Whoever can name the next order can be a crew: a
script's lines today, or anything else that answers `next_order`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, runtime_checkable


@dataclass(frozen=True, slots=True)
class Condition:
    """Something that is or is not so. `what`:

    "in" (any part of vehicle `one` is on `place`), "within" (all of it), "off" (no part), "clear" (nothing is on `place`),
    "marked" (mark `one` was made), "token" (the token of section `place` lies at station `one`),
    "read" (tag `one` was read `count` times in all), "always".
    """

    what: str
    one: str = ""
    place: str = ""
    count: int = 0


@dataclass(frozen=True, slots=True)
class Moment:
    """`after_s` seconds after a condition was first seen to be so."""

    condition: Condition
    after_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Expectation:
    """What should be said of a mistake: from when it shows, by when it should be said, and never before it has been so for
    `stands_s` seconds; which kinds may follow. Where `past` comes to be so before, it need not be said any more."""

    kind: str
    subject: tuple[tuple[str, str], ...]
    shows: Moment
    due: Moment
    may_follow: tuple[str, ...] = ()
    stands_s: float = 0.0
    past: Condition | None = None


@dataclass(frozen=True, slots=True)
class Works:
    """The train is from now on this working."""

    working: str


@dataclass(frozen=True, slots=True)
class Ends:
    """The working is over: what was left here is set out."""


@dataclass(frozen=True, slots=True)
class UntilClock:
    """Waits for a time of the session clock, seconds since midnight."""

    clock_s: float


@dataclass(frozen=True, slots=True)
class Waits:
    """Waits so many seconds of real time."""

    seconds: float


@dataclass(frozen=True, slots=True)
class WaitsUntil:
    """Waits for a condition."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class RunsTo:
    """Runs onto a road and stands wholly on it, or with its leading end `into_mm` inside; `by`: through this road.

    `departs`: though it goes only into a section, it is leaving for the next station.
    """

    place: str
    into_mm: float | None = None
    by: str | None = None
    speed_mm_s: float | None = None
    departs: bool = False


@dataclass(frozen=True, slots=True)
class DrawsClear:
    """Runs out into a throat or section until its rear is clear of the road it came from."""

    place: str
    by: str | None = None
    speed_mm_s: float | None = None


@dataclass(frozen=True, slots=True)
class RunsUntil:
    """Runs towards a place until the middle of a vehicle is at a boundary."""

    place: str
    vehicle: str
    boundary: str
    speed_mm_s: float | None = None


@dataclass(frozen=True, slots=True)
class Couples:
    """Runs up to a standing vehicle until they touch, and couples to it and what is coupled to it."""

    vehicle: str
    by: str | None = None
    speed_mm_s: float | None = None


@dataclass(frozen=True, slots=True)
class Leaves:
    """Uncouples these, which stay where they stand; with `all_but`, everything but these and the engine."""

    vehicles: tuple[str, ...]
    all_but: bool = False


@dataclass(frozen=True, slots=True)
class TakesToken:
    """Lifts a section's token off its rest at a station."""

    section: str
    station: str


@dataclass(frozen=True, slots=True)
class LaysToken:
    """Lays a section's token on its rest at a station."""

    section: str
    station: str


@dataclass(frozen=True, slots=True)
class Says:
    """Tells the bridge something, in the words of an operator."""

    words: str


@dataclass(frozen=True, slots=True)
class Switches:
    """A proof or power input changes."""

    detector: str
    on: bool


@dataclass(frozen=True, slots=True)
class BoardFails:
    """A board is silent for `silent_s`, then starts anew; or its next `lost` reports are lost (`kept`: it has them)."""

    board: str
    silent_s: float = 0.0
    lost: int = 0
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Marks:
    """Makes a mark that others may wait for."""

    name: str


@dataclass(frozen=True, slots=True)
class CarriesTag:
    """A vehicle carries another tag than the stock list says."""

    vehicle: str
    tag: str


@dataclass(frozen=True, slots=True)
class Expects:
    """From here on this expectation is watched for."""

    expectation: Expectation


Order = (
    Works
    | Ends
    | UntilClock
    | Waits
    | WaitsUntil
    | RunsTo
    | DrawsClear
    | RunsUntil
    | Couples
    | Leaves
    | TakesToken
    | LaysToken
    | Says
    | Switches
    | BoardFails
    | Marks
    | CarriesTag
    | Expects
)


class Crew(Protocol):
    """Somebody who works one engine, or none (a signalman, whoever tends the boards)."""

    @property
    def engine(self) -> str | None:
        """The engine's id, None where there is none."""

    @property
    def name(self) -> str:
        """What the crew is called in messages."""

    def next_order(self) -> tuple[Order, str] | None:
        """What to do next, and where that was told (file:line); None when done."""


@runtime_checkable
class Resourceful(Protocol):
    """A crew that is told when its order cannot be done, and finds another way."""

    def refused(self, reason: str, by: str, passing: bool) -> None:
        """The order just given cannot be done, and why.

        `by`: the vehicle in the way, "" where it is none; `passing`: it may soon be possible without anybody doing more.
        """
