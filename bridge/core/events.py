"""What the fold is fed: the whole vocabulary, past tense, frozen.

Rule: order is the journal number; `t` never runs backwards; nothing else tells the core what time it is.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.learned import Learned
from bridge.core.plan import Railway
from bridge.wire.records import Record


@dataclass(frozen=True, slots=True)
class Journalled:
    """A record with its journal number: the count of records in the session, from 1."""

    n: int
    record: Record


@dataclass(frozen=True, slots=True)
class FolderTaken:
    """A railway folder came into force, with its content: an edited file cannot change the past. `learned`: what the session
    before has learned of readers and tags."""

    t: float
    railway: Railway
    learned: Learned | None = None


@dataclass(frozen=True, slots=True)
class DeadlinePassed:
    """The moment came that `due` had named, with nothing before it."""

    t: float


Event = Journalled | FolderTaken | DeadlinePassed
