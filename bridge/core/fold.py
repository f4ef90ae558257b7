"""The one fold: an event in, the state changed, outcomes out.

Rule: pure. Same events, same outcomes, on every machine and hash seed. A state handed to `fold` belongs to it afterwards:
use the one that comes back. After a session has ended nothing more is said: the next begins with a state of its own.
"""

from __future__ import annotations

from bridge.core import opening, steps
from bridge.core.events import Event, FolderTaken, Journalled
from bridge.core.learned import Learned
from bridge.core.operator import words
from bridge.core.outcomes import Outcome
from bridge.core.retold import hindsight
from bridge.core.state import State, equip
from bridge.wire.records import Said


def fold(state: State, event: Event) -> tuple[State, tuple[Outcome, ...]]:
    """Take one event into the state; what the core has to say about it."""
    if isinstance(event, FolderTaken):
        state.t = event.t
        equip(state, event.railway, event.learned)
        state.past.keep(state)
        return state, ()
    if state.conditioning is None or state.ended:
        return state, ()
    before: tuple[Outcome, ...] = ()
    if isinstance(event, Journalled):
        if _is_end(event):
            state, before = hindsight.settle(state, event.record.t)
        state.past.note(event, steps.take(state, event))
    elif (settles := state.past.due()) is not None and settles <= event.t:
        state, before = hindsight.settle(state, event.t)
    else:
        steps.pass_deadline(state, event.t)
    return state, (*before, *_said(state))


def due(state: State) -> float | None:
    """The next moment (host seconds) at which the core wants to be woken by a `DeadlinePassed`, None when nothing waits."""
    times = [t for t in (steps.due(state), None if state.ended else state.past.due()) if t is not None]
    return max(min(times), state.t) if times else None


def close(state: State, t: float) -> tuple[State, tuple[Outcome, ...]]:
    """The closing words of a session whose capture ends without `end`; nothing where none runs."""
    if not state.running:
        return state, ()
    state, before = hindsight.settle(state, t)
    steps.tick(state, t)
    opening.close(state, ())
    return state, (*before, *_said(state))


def learned(state: State) -> Learned | None:
    """What this session has learned of readers and tags, for the next one to begin with; None where that is nothing."""
    found = None if state.where is None else state.where.learned()
    return found if found is not None and (found.readers or found.tags) else None


def _is_end(event: Journalled) -> bool:
    return isinstance(event.record, Said) and isinstance(words.parse(event.record.words), words.End)


def _said(state: State) -> tuple[Outcome, ...]:
    said = state.ledger.drain()
    state.past.remember(said)
    state.past.keep_now_and_then(state)
    return said
