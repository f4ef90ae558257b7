"""When a train will be where it is booked next: from its booked times, the running of each section, and where it is now.

Rule: read from the state, changing nothing; session seconds. Nothing is foretold of what is late already by its own running,
and nothing past a call or section of which no time is booked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.presence import Presence
from bridge.core.trains import Phase, Train, run_s

if TYPE_CHECKING:
    from bridge.core.state import State


def leaves_s(state: State, train: Train, call: int) -> float | None:
    """When a train that has not left this call of its working will leave it."""
    now_s = state.clock.session_s(state.t)
    if now_s is None or train.working is None or train.phase is Phase.ENDED:
        return None
    booked = train.working.calls[call]
    booked_s = booked.depart_s if booked.depart_s is not None else booked.arrive_s
    is_there = train.phase is Phase.AT_STATION and train.call == call
    if is_there or (train.phase is Phase.TO_COME and call == 0):
        return None if booked_s is None else max(now_s, booked_s)
    came_s = comes_s(state, train, call)
    return None if came_s is None else max(came_s, booked_s or came_s)


def comes_s(state: State, train: Train, call: int) -> float | None:
    """When a train that has not come to this call of its working will come there; None where nothing can be said."""
    now_s, railway, working = state.clock.session_s(state.t), state.railway, train.working
    if now_s is None or railway is None or working is None or not 0 < call < len(working.calls):
        return None
    if train.phase in (Phase.OUT, Phase.IN_SECTION) and train.call == call - 1:
        presence = on_its_way(state, train)
        left_s = None if presence is None else presence.out_s
    else:
        left_s = leaves_s(state, train, call - 1)
    takes_s = run_s(railway, working, call - 1)
    if left_s is None or takes_s is None or left_s + takes_s <= now_s:
        return None
    return left_s + takes_s


def clears_s(state: State, train: Train, call: int) -> float | None:
    """When its last vehicle will be out of the section by which it comes to a call: as much later than its first as its own
    length takes."""
    railway, where, came_s = state.railway, state.where, comes_s(state, train, call)
    if came_s is None or railway is None or where is None or train.working is None:
        return None
    here, then = train.working.calls[call - 1], train.working.calls[call]
    section, takes_s = railway.plant.section_between(here.station, then.station), run_s(railway, train.working, call - 1)
    if section is None or takes_s is None:
        return None
    rake = train.working.rake if train.phase is Phase.TO_COME else where.company(train.engine)
    length_mm = sum(railway.stock[v].length_mm for v in {*rake, train.engine})
    return came_s + takes_s * length_mm / section.length_mm


def on_its_way(state: State, train: Train) -> Presence | None:
    """The present stay in a section of a train that has gone out and not come out again."""
    rows = state.presences.get(train.section or "", ()) if train.phase in (Phase.OUT, Phase.IN_SECTION) else ()
    return next((p for p in reversed(rows) if p.train == train.id and p.out_at is None), None)
