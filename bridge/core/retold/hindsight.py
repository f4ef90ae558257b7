"""What came late, put in its place: the recent past is told again with it, and only the difference is said.

Rule: the journal's order stays; only what is made of it is made anew. Late evidence is placed where it happened, and what
reached the host since is taken again from the last state kept before it. What operators told since is taken again too, at
its own time, so it stands. Late lines that come together are placed together.
"""

from __future__ import annotations

import pickle
from typing import TYPE_CHECKING

from bridge.core import steps
from bridge.core.asking import set_aside
from bridge.core.conditioning import Late
from bridge.core.outcomes import Outcome
from bridge.core.retold import retelling
from bridge.core.retold.past import between

if TYPE_CHECKING:
    from bridge.core.state import State

MOST_AT_ONCE = 10_000
RULE = "late-evidence"


def settle(state: State, t: float) -> tuple[State, tuple[Outcome, ...]]:
    """Place what came late; the state that follows from it, and what is to be said of that."""
    past = state.past
    if not past.waiting:
        return state, ()
    first, placed = past.place_waiting()
    if first is None:
        return state, ()
    said = list(state.ledger.drain())
    try:
        new = _taken_again(state, first, placed, t)
    except Exception as error:
        if state.strict:
            raise
        past.kept.clear()  # nothing can be told again from here on
        set_aside(state, RULE, error)
        return state, (*said, *state.ledger.drain())
    return new, (*said, *new.ledger.drain())


def _taken_again(state: State, first: int, placed: frozenset[int], t: float) -> State:
    past = state.past
    start = past.kept_before(first)
    new: State = pickle.loads(start.pickled)
    new.past = past
    retelling.begin(new.ledger, state.ledger, past.again_n)
    said: list[Outcome] = []
    apart, last_kept = between(new), start.index
    for index in range(start.index, past.events_from + len(past.events)):
        if index - last_kept >= apart:
            statements = start.statements + sum(retelling.is_statement(outcome) for outcome in said)
            past.keep_at(new, index, statements)
            last_kept = index
        entry = past.events[index - past.events_from]
        _pass_deadlines(new, entry.t)
        if isinstance(entry.event, Late):
            steps.place(new, entry.event, entry.t)
        else:
            steps.take(new, entry.event)
        said += new.ledger.drain()
    _pass_deadlines(new, t)
    said += new.ledger.drain()
    steps.tick(new, max(t, state.t))
    past.again_n = new.ledger.n
    cut = start.statements - past.statements_from
    earlier, stated = past.statements[:cut], past.statements[cut:]
    past.statements[cut:] = retelling.tell_difference(state, new, earlier, stated, said, placed)
    return new


def _pass_deadlines(state: State, t: float) -> None:
    """Pass the deadlines at or before `t`, none while the service was stopped."""
    at_once, last = 0, -1.0
    while (due := steps.due(state)) is not None and due <= t:
        assert state.conditioning is not None
        if state.conditioning.is_down:
            return
        at_once, last = (at_once + 1 if due == last else 0), due
        if at_once > MOST_AT_ONCE:
            raise RuntimeError(f"a deadline at {due:.6f} s does not pass")
        steps.pass_deadline(state, due)
