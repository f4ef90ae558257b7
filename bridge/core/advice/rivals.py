"""Who goes before a train, by the plan: whom it is booked to wait for, and who is booked through its section earlier.

Rule: read from the state, changing nothing. Where times do not tell an order, none is claimed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.plan import Call, Passage
from bridge.core.plant import Section
from bridge.core.trains import Phase, Train, calls_at

if TYPE_CHECKING:
    from bridge.core.state import State


@dataclass(frozen=True, slots=True)
class Rival:
    """A train that goes before another. `comes`: it is to come in where that one stands, at its call `call`; else it is to
    leave from there, from its call `call`."""

    train: str
    comes: bool
    call: int


def ahead(state: State, train: Train, call: Call, section: Section) -> Iterator[Rival]:
    """Those that have yet to come or go before a train leaves a call by a section."""
    railway = state.railway
    assert railway is not None
    named: set[str] = set()
    for working in call.wait_for:
        if not has_come(state, working, call, state.t):
            named.add(working)
            at = awaited_call(state.roster.trains[working], call)
            yield Rival(working, True, at.index if at is not None else 0)
    for row in railway.passages.get(section.id, ()) if call.depart_s is not None else ():
        other = state.roster.trains.get(row.working)
        if other is None or other.engine == train.engine or row.working in named:
            continue
        if row.goal == call.station and _is_before(row.comes_s, call) and not _has_got(other, row, comes=True):
            named.add(row.working)
            yield Rival(row.working, True, row.call + 1)
        elif row.start == call.station and _leads(row, call) and not _has_got(other, row, comes=False):
            named.add(row.working)
            yield Rival(row.working, False, row.call)


def _is_before(booked_s: float | None, call: Call) -> bool:
    return booked_s is not None and call.depart_s is not None and booked_s <= call.depart_s


def _leads(row: Passage, call: Call) -> bool:
    """True where a working leaves the same way before; at the same second neither does."""
    return row.leaves_s is not None and call.depart_s is not None and row.leaves_s < call.depart_s


def _has_got(other: Train, row: Passage, comes: bool) -> bool:
    """True where a train has come out of a booked passage (`comes`), or gone into it."""
    if other.phase is Phase.ENDED or other.call > row.call:
        return True
    return not comes and other.call == row.call and other.phase in (Phase.OUT, Phase.IN_SECTION)


def has_come(state: State, working: str, call: Call, t: float) -> bool:
    """True where a working had come by host second `t` to the call at which this one is booked to wait for it, or will come
    to none any more."""
    train = state.roster.trains.get(working)
    at = None if train is None else awaited_call(train, call)
    if train is None or at is None:
        return True
    if train.phase is Phase.TO_COME:
        return False
    return at.index == 0 or train.phase is Phase.ENDED or train.call > at.index or train.came.get(at.index, t + 1.0) <= t


def awaited_call(train: Train, call: Call) -> Call | None:
    """The call of a train at a station that another is to wait for there: the last that is booked before that one leaves."""
    there = [] if train.working is None else list(calls_at(train.working, call.station))
    leaves_s = call.depart_s
    times = [(c, c.arrive_s if c.arrive_s is not None else c.depart_s) for c in there]
    before = [c for c, t_s in times if leaves_s is not None and t_s is not None and t_s <= leaves_s]
    return before[-1] if before else there[0] if there else None
