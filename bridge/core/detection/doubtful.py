"""Detectors under doubt: what speaks against each, and what rests on its word.

Rule: a detector is doubted for what it says, never silenced for it: what follows from its word is said all the same, and
names it as doubtful. Somebody who mutes it has seen to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bridge.core.conditioning.deadlines import Deadlines

if TYPE_CHECKING:
    from bridge.core.state import State

KINDS = ("detector-noisy", "detector-stuck", "detector-contradicted")


@dataclass(frozen=True, slots=True)
class Noisy:
    """An input that changes more often than anything on the rails can make it: `changes` within `within_s` seconds.
    `is_bare`: nothing at all was near that could have made it change. `beside`: others of its board that were noisy then."""

    cause: str
    changes: int
    within_s: float
    is_bare: bool
    beside: tuple[str, ...]
    evidence: tuple[int, ...]
    happened: float


@dataclass(frozen=True, slots=True)
class Run:
    """A train's way from one station to the next: from `road` by the throat `start`, out since host second `out_t`, in by
    the throat `end`. `stood_t`: since when it had stood on that road, None where nothing read it come there. `evidence`: the
    journal numbers of its going and coming."""

    section: str
    road: str | None
    start: str
    end: str
    out_t: float
    stood_t: float | None
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Silence:
    """A detector that has not changed, though these trains passed it; `says`: what it said all the while, since host second
    `since_t`."""

    says: str
    since_t: float
    trains: tuple[str, ...]
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Against:
    """What has been told against a detector so far: how often, and by which journal numbers."""

    times: int
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Contradicted:
    """A detector that says what cannot be. `what`: what else is known, in words that follow its name; `look`: what to look
    at."""

    cause: str
    what: str
    look: str
    because: tuple[str, ...]
    evidence: tuple[int, ...]


@dataclass
class Doubtful:
    """All that speaks against detectors, by their ids. `runs`: by train, those that go on and those that are over and have
    not been judged."""

    runs: dict[str, Run] = field(default_factory=dict)
    noisy: dict[str, Noisy] = field(default_factory=dict)
    silences: dict[str, Silence] = field(default_factory=dict)
    stuck: dict[str, Silence] = field(default_factory=dict)
    against: dict[str, Against] = field(default_factory=dict)
    contradicted: dict[str, Contradicted] = field(default_factory=dict)
    moments: Deadlines = field(default_factory=Deadlines)

    def __contains__(self, detector: str) -> bool:
        return detector in self.noisy or detector in self.stuck or detector in self.contradicted


def doubted(state: State, detectors: Iterable[str]) -> tuple[str, ...]:
    """Those of some detectors whose word is under doubt now."""
    conditioning = state.conditioning
    assert conditioning is not None
    return tuple(sorted({d for d in detectors if d in state.doubtful and not conditioning.detectors[d].muted}))


def telling_of(state: State, road: str) -> tuple[str, ...]:
    """The detectors by which it is known what stands on a road: its own, and those at its ends."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    ends = [f"{road}@{end}" for end in plant.roads[road].open]
    return tuple(d.id for d in (*plant.covering.get(road, ()), *(d for end in ends for d in plant.standing_at.get(end, ()))))


def said_by(state: State, detector: str) -> str:
    """What a track detector says, as far as it proves anything: unknown where it says clear and is doubted."""
    conditioning = state.conditioning
    assert conditioning is not None
    word = conditioning.detectors[detector].state
    return "unknown" if word == "clear" and doubted(state, (detector,)) else word


def weakened(state: State, detectors: Iterable[str]) -> str:
    """What is added to a text that rests on the word of some detectors; empty where none is doubted."""
    names = doubted(state, detectors)
    are = "are" if len(names) > 1 else "is"
    return f" Evidence weak: {' and '.join(names)} {are} under doubt." if names else ""


def touch(state: State, detector: str) -> None:
    """What speaks against a detector has changed: so has what rests on its word."""
    state.touch("detector", detector)
    for found in state.astray.values():
        if found.detector == detector:
            state.touch("astray", found.stretch)
            state.touch("section", found.stretch)
    for section, presences in state.presences.items():
        if any(p.short is not None and detector in p.short.detectors for p in presences):
            state.touch("section", section)
    for key, row in state.blocked.items():
        if detector in row.detectors:
            state.touch("blocked", key)
    for road in state.overfull:
        state.touch("road", road)
    for train in state.roster.trains.values():
        if train.wrong_road is not None:
            state.touch("train", train.id)
    if detector in state.risks:
        state.touch("proof", detector)
