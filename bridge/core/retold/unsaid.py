"""A word taken back: the recent past is told again as if it had not been said, and the difference is said.

Rule: a word that lies too far back for that is taken back by its opposite where it has one, from now on; else why not is
answered, and nothing changes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core import steps
from bridge.core.conditioning import Conditioned
from bridge.core.events import Journalled
from bridge.core.operator import words
from bridge.core.outcomes import Outcome
from bridge.core.retold import hindsight
from bridge.core.retold.told import Told, about, can_be_unsaid
from bridge.wire.records import Said

if TYPE_CHECKING:
    from bridge.core.state import State

WHY = "the word that told so is taken back"


def take(state: State, event: Journalled) -> tuple[State, tuple[Outcome, ...]]:
    """Take what reached the host, words taken back included; the state then, and what was said before the event's own."""
    told, past = _word(event), state.past
    before: tuple[Outcome, ...] = ()
    if isinstance(told, words.Undo):
        state, before = _undo(state, event, told.n)
    else:
        past.note(event, steps.take(state, event))
    if told is not None and not isinstance(told, words.Undo | words.Draw):
        _account(state, event, told)
    return state, before


def _undo(state: State, event: Journalled, earlier: int) -> tuple[State, tuple[Outcome, ...]]:
    past, before = state.past, tuple[Outcome, ...]()
    row = past.told.rows.get(earlier)
    if row is not None and can_be_unsaid(state, row):
        state, before = hindsight.settle(state, event.record.t)
    has_opposite = earlier in state.undos
    if row is not None and can_be_unsaid(state, row):
        past.note(event, Conditioned())
        state, said = hindsight.tell_again(state, past.unsay(earlier), frozenset({event.n}), event.record.t, WHY)
        before = (*before, *said)
        if state.journal_n == event.n:
            state.reply = f"Number {earlier} is taken back, as if it had not been said: {row.words}"
            past.told.take_back(earlier, event.n, _who(event))
            return state, before
    past.note(event, steps.take(state, event))
    if has_opposite and earlier not in state.undos:
        past.told.take_back(earlier, event.n, _who(event))
    return state, before


def _account(state: State, event: Journalled, told: words.Word) -> None:
    """Add what an operator told to the account of it."""
    assert isinstance(event.record, Said)
    record, is_near = event.record, bool(state.past.kept)
    clock = state.ledger.clock
    state.past.told.add(Told(event.n, state.t, clock, record.who, record.words, about(told), state.reply, is_near))


def _word(event: Journalled) -> words.Word | None:
    if not isinstance(event.record, Said):
        return None
    told = words.parse(event.record.words)
    return None if isinstance(told, words.Misword) else told


def _who(event: Journalled) -> str | None:
    return event.record.who if isinstance(event.record, Said) else None
