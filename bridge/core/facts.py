"""Facts that rules claim from: entries into sections, doubts about freight, strange tags.

Rule: a fact is noted as it happens, with the journal numbers that it rests on, and stays until what it tells of is past.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Entry:
    """One train's entry into a section, judged as it happened; it stands until the train next departs, ends, or is
    put right."""

    cause: str
    section: str
    train: str
    t: float
    n: int | None
    authorised: bool
    why: str
    others: tuple[str, ...] = ()
    stranded: tuple[str, ...] = ()
    way: str = ""
    """up or down, where its section is closed to trains that way; else empty."""
    maybe: tuple[str, ...] = ()
    """Trains that may have been there, and not plainly so."""
    is_plain: bool = True
    """Whether the train has plainly gone in: before, nothing is said of it."""
    least: float = 0.0
    """How likely it must be there for that (0 to 1)."""
    is_witnessed: bool = True
    """Whether anything at the section has told of it."""


@dataclass(frozen=True, slots=True)
class Early:
    """A departure too early: `sooner_s` session seconds before its time (0: not by the clock), and before the workings
    `missing` had come."""

    cause: str
    station: str
    sooner_s: int
    missing: tuple[str, ...]
    because: tuple[str, ...]
    evidence: tuple[int, ...]
    follows: str | None
    happened: float


@dataclass(frozen=True, slots=True)
class Overdue:
    """A train that has not been seen where it should be; its run is booked to take `booked_s` session seconds."""

    cause: str
    booked_s: float
    because: tuple[str, ...]
    evidence: tuple[int, ...]


@dataclass(slots=True)
class Blocked:
    """What is in the way of one train on the road of one of its calls: `vehicles`, or what `detectors` tell of. `throat`: by
    which it comes in; `due`: it is on its way there. `cause` is empty while nothing is in its way."""

    train: str
    call: int
    road: str
    throat: str | None
    due: bool = False
    cause: str = ""
    level: str = ""
    vehicles: tuple[str, ...] = ()
    detectors: tuple[str, ...] = ()
    evidence: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Unproved:
    """What is guarded is not proved under a train, or before it. `why`: what makes the proof unknown; None where it says so
    itself."""

    cause: str
    why: str | None
    because: tuple[str, ...]
    evidence: tuple[int, ...]
    follows: str | None
    happened: float


@dataclass(slots=True)
class Risk:
    """One train in what a proof guards (`inside`), or on its way there, since host second `since_t`. `asked`: its board has
    been given time to say how the proof stands."""

    since_t: float
    n: int | None
    inside: bool
    unproved: Unproved | None = None
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Short:
    """A train that has come out of a section without all of it: what it may have left there, and the detectors that show it.
    `boards`: those whose lost reports could explain it; `happened`: its last passing."""

    cause: str
    vehicles: tuple[str, ...]
    detectors: tuple[str, ...]
    boards: tuple[str, ...]
    evidence: tuple[int, ...]
    happened: float


@dataclass(frozen=True, slots=True)
class Astray:
    """Something that occupies a section or road though no train can be the cause, since host second `t`."""

    cause: str
    stretch: str
    detector: str
    t: float
    n: int | None


@dataclass(frozen=True, slots=True)
class ByHand:
    """A wagon that was read at `place` in host second `t`, where no engine can have taken it from `home`. `unread`: the one
    that was to be read in its place, and was not, where there is such a one."""

    cause: str
    home: str
    place: str
    t: float
    evidence: tuple[int, ...]
    unread: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """May a train go from its call `call` into a section? `answer`: yes, wait, look; `sense`: the reason without what passes
    with each second; `until_s`: the session second at which it is likely that it may, None where nothing can be said."""

    call: int
    section: str
    answer: str
    sense: str
    until_s: float | None
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Meeting:
    """A train that leaves a station at its time meets another in a section, as was foreseen first at `seen_s`: that one is
    clear of it at `clears_s`, and `is_in` it already. All session seconds."""

    cause: str
    section: str
    other: str
    station: str
    leaves_s: float
    clears_s: float
    seen_s: float
    is_in: bool
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Circle:
    """Trains of which each waits for the next, and the last for the first, and the way out of it."""

    cause: str
    trains: tuple[str, ...]
    way_out: str


@dataclass
class Doubt:
    """Something about freight that was found when a train left its call `call` or ended (`kind` is an irregularity kind)."""

    kind: str
    cause: str
    train: str
    vehicle: str
    road: str
    evidence: tuple[int, ...]
    happened: float | None
    because: tuple[str, ...] = ()
    call: int = 0


@dataclass
class Strange:
    """A tag of no vehicle: where and when it was read."""

    tag: str
    reads: list[tuple[float, str, int]] = field(default_factory=list)
    raised: bool = False


@dataclass(frozen=True, slots=True)
class Lost:
    """A vehicle of which no place is likely enough: where to look for it, the likeliest place first."""

    cause: str
    places: tuple[str, ...]
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Weak:
    """A reader that misses too much: of so many vehicles that passed it, it has read so many."""

    cause: str
    read: int
    passed: int
    evidence: tuple[int, ...]
