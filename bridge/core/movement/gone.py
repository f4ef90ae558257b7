"""Whether a train that counts as departed has surely gone: what its departure shows is said only then.

Rule: a departure is held to be one as soon as nothing speaks against it; that another engine may have gone in its place, or
that it only shunts, is ruled out when its engine is surely elsewhere, or when somebody has told of it. Once sure it stays
so until the train next departs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.movement import early
from bridge.core.presence import Presence
from bridge.core.readings import limit
from bridge.core.trains import Phase, Train
from bridge.core.wagons import reckoning
from bridge.core.wagons.away import is_away

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence, was_told: bool) -> None:
    """A train has departed."""
    train.left = presence.start.partition(".")[0]
    train.is_gone = was_told or _has_gone(state, train, presence)


def train_ended(train: Train) -> None:
    """A working is over: what it leaves undone shows, wherever its engine is."""
    train.is_gone = True


def look_again(state: State, vehicle: str) -> None:
    """What is believed of a vehicle may have changed: is the train that it works surely gone now?"""
    train = state.roster.current(vehicle)
    if train is None or train.is_gone or train.left is None:
        return
    presence = next((p for p in reversed(state.presences.get(train.section or "", ())) if p.train == train.id), None)
    if _has_gone(state, train, presence):
        train.is_gone = True
        early.proved_gone(state, train)
        state.touch("freight", train.id)
        if presence is not None and train.phase is Phase.IN_SECTION:
            reckoning.proved_gone(state, train, presence)


def _has_gone(state: State, train: Train, presence: Presence | None) -> bool:
    """True where an engine is surely away from the station that its train has left, and does not merely shunt there: what
    goes with it is away too, or it was itself seen there, or has come out elsewhere, or nothing was heard of it for long."""
    where, station = state.where, train.left or ""
    assert where is not None
    if not is_away(state, train.engine, station):
        return False
    if presence is None or presence.out_at is not None:
        return True
    is_quiet = state.t >= round(presence.last_sign_t + limit(state, "out_after", 20.0), 6)
    return (
        is_quiet
        or where.belief(train.engine).by == "seen"
        or all(is_away(state, v, station) for v in where.company(train.engine))
    )
