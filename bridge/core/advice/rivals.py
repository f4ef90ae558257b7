"""Who goes before a train, by the plan: whom it is booked to wait for, and who is booked through its section earlier.

Rule: read from the state, changing nothing. Where times do not tell an order, none is claimed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.movement.early import awaited_call, has_come
from bridge.core.movement.trains import Phase, Train
from bridge.core.plan import Call, Passage
from bridge.core.plant import Section

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
