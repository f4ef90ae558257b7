"""The one fold: an event in, the state changed, outcomes out.

Rule: pure. Same events, same outcomes, on every machine and hash seed. A state handed to `fold` belongs to it afterwards:
use the one that comes back.
"""

from __future__ import annotations

from bridge.core.events import Event
from bridge.core.outcomes import Outcome
from bridge.core.state import State


def fold(state: State, event: Event) -> tuple[State, tuple[Outcome, ...]]:
    """Take one event into the state; what the core has to say about it."""
    return state, ()


def due(state: State) -> float | None:
    """The next moment (host seconds) at which the core wants to be woken by a `DeadlinePassed`, None when nothing waits."""
    return None


def close(state: State, t: float) -> tuple[State, tuple[Outcome, ...]]:
    """The closing words of a session whose capture ends without `end`; nothing where none runs."""
    return state, ()
