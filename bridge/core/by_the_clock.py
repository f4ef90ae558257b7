"""What waits for moments of the session clock: trains that should have been seen, roads that should be free,
booked times to leave.

Rule: kept in session seconds, so it stands still while the clock does; handed on when the clock shows it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.advice import may_go
from bridge.core.movement import blocked, overdue

if TYPE_CHECKING:
    from bridge.core.state import State


def pass_deadline(state: State) -> None:
    """Hand on the moments that the session clock has reached."""
    now_s = state.clock.session_s(state.t)
    while now_s is not None and (found := state.timed.pop(now_s)) is not None:
        _, (kind, train, _, _) = found
        if kind == "overdue":
            overdue.come_due(state, train)
        elif kind == "may-go":
            may_go.come_due(state, train)
        else:
            blocked.come_due(state, train)


def due(state: State) -> float | None:
    """The next of them in host seconds; None while the clock stands."""
    first_s = state.timed.first()
    return None if first_s is None else state.clock.host_t(first_s)
