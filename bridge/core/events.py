"""What the fold is fed: the whole vocabulary, past tense, frozen.

Rule: order is the journal number; `t` never runs backwards; nothing else tells the core what time it is.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.plan import Railway
from bridge.wire.records import Record


@dataclass(frozen=True, slots=True)
class Journalled:
    """A record with its journal number: the count of records in the session, from 1."""

    n: int
    record: Record


@dataclass(frozen=True, slots=True)
class FolderTaken:
    """A railway folder came into force, with its content: an edited file cannot change the past."""

    t: float
    railway: Railway


@dataclass(frozen=True, slots=True)
class DeadlinePassed:
    """The moment came that `due` had named, with nothing before it."""

    t: float


Event = Journalled | FolderTaken | DeadlinePassed
