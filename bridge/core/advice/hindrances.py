"""What may stand against a train's going, as one thing in words.

Rule: what is known to be so makes a train wait; what is unknown, unproved or assumed is to be looked at first.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.movement.trains import Train
from bridge.core.plan import Call
from bridge.core.plant import Section


@dataclass(frozen=True, slots=True)
class Hindrance:
    """One thing that stands against it, in `words`. `look`: it is unknown, and to be looked at; `until_s`: the session
    second at which it is likely to be over, None where nothing can be said; `evidence`: journal numbers;
    `since_t`: the host second since when a detector alone tells of it, else None; `again_t`: it is
    to be looked at again then; `waits_on`: the train for which it waits, `is_booked` where by the plan alone."""

    words: str
    look: bool = False
    until_s: float | None = None
    evidence: tuple[int, ...] = ()
    since_t: float | None = None
    again_t: float | None = None
    waits_on: str | None = None
    is_booked: bool = False


@dataclass(frozen=True, slots=True)
class Going:
    """A train's booked going: from `call` to `then` by `section`, in at the throat `throat` and out at `far`."""

    train: Train
    call: Call
    then: Call
    section: Section
    throat: str
    far: str


def numbers(*found: int | None) -> tuple[int, ...]:
    """The journal numbers that there are, in order."""
    return tuple(sorted({n for n in found if n is not None}))
