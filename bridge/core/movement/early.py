"""Departures too early: before the booked time, or before the trains for which a train is booked to wait.

Rule: judged once a train has departed, by the moment at which it went out; a train that only shunts, or leaves for
elsewhere than it is booked, leaves nothing too early. What such a departure shows stands until the train next departs or
ends.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Early
from bridge.core.line.presence import Presence
from bridge.core.movement.away import is_away
from bridge.core.movement.trains import Phase, Train, calls_at
from bridge.core.plan import Call
from bridge.core.readings import in_the_dark, late_s, limit

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed, `late_s` after its booked time: was that too early?"""
    state.early.pop(train.id, None)
    call, then, railway = train.this_call(), train.next_call(), state.railway
    assert railway is not None
    section = railway.plant.sections[presence.section]
    ends = {throat.partition(".")[0] for throat in (section.from_throat, section.to_throat)}
    if call is None or then is None or ends != {call.station, then.station} or call.station != train.station:
        return
    early_s = 0 if train.late_s is None else -train.late_s
    sooner_s = early_s if early_s > 0 and early_s >= limit(state, "early_by", 60.0) else 0
    missing = tuple(w for w in call.wait_for if not has_come(state, w, call, presence.out_t))
    if sooner_s or missing:
        because = () if sooner_s else _unheard(state, missing, call.station)
        evidence = () if presence.n is None else (presence.n,)
        cause = f"early:{train.id}:{call.index}:{presence.cause}"
        follows = _clash_of(state, presence)
        happened = round(presence.out_t, 6)
        state.early[train.id] = Early(
            cause, railway.plant.stations[call.station].name, sooner_s, missing, because, evidence, follows, happened
        )
    state.touch("train", train.id)


def proved_gone(state: State, train: Train) -> None:
    """Only now is it sure that a train has departed: was it too early even so?"""
    found, call = state.early.get(train.id), train.this_call()
    if found is not None and found.sooner_s:
        now_s = late_s(state, state.t, call.depart_s if call is not None else None)
        if train.phase is not Phase.IN_SECTION or now_s is None or -now_s < limit(state, "early_by", 60.0):
            del state.early[train.id]
    state.touch("train", train.id)


def came_back(state: State, train: Train, why: str, n: int | None) -> None:
    """The departure was none."""
    found = state.early.pop(train.id, None)
    if found is not None:
        state.ledger.withdraw(found.cause, why, (n,))
        state.touch("train", train.id)


def train_ended(state: State, train: Train) -> None:
    """A working is over, and what its departures showed is past."""
    if state.early.pop(train.id, None) is not None:
        state.touch("train", train.id)


def has_come(state: State, working: str, call: Call, t: float) -> bool:
    """True where a working had come by host second `t` to the call at which this one is booked to wait for it, or will come
    to none any more."""
    train = state.roster.trains.get(working)
    at = None if train is None else awaited_call(train, call)
    if train is None or at is None:
        return True
    if train.phase is Phase.TO_COME:
        return False
    if not is_away(state, train.engine, call.station):
        return True  # as far as anybody can tell it is there
    return at.index == 0 or train.phase is Phase.ENDED or train.call > at.index or train.came.get(at.index, t + 1.0) <= t


def awaited_call(train: Train, call: Call) -> Call | None:
    """The call of a train at a station that another is to wait for there: the last that is booked before that one leaves."""
    there = [] if train.working is None else list(calls_at(train.working, call.station))
    leaves_s = call.depart_s
    times = [(c, c.arrive_s if c.arrive_s is not None else c.depart_s) for c in there]
    before = [c for c, t_s in times if leaves_s is not None and t_s is not None and t_s <= leaves_s]
    return before[-1] if before else there[0] if there else None


def _unheard(state: State, workings: tuple[str, ...], station: str) -> tuple[str, ...]:
    """What of the detection could explain that these trains were not seen to come."""
    railway = state.railway
    assert railway is not None
    plant = railway.plant
    roads = {c.road for w in workings for c in calls_at(railway.workings[w], station)}
    ends = [b.id for b in plant.boundaries.values() if b.outer in plant.sections and b.throat.startswith(f"{station}.")]
    tracks = [d for road in roads for d in plant.covering.get(road, ())]
    return in_the_dark(state, [*tracks, *(d for end in ends for d in plant.standing_at.get(end, ()))])


def _clash_of(state: State, presence: Presence) -> str | None:
    """The section clash that came of the same entry."""
    for entry in state.entries.get(presence.section, ()):
        if entry.cause == presence.cause and (entry.others or entry.stranded):
            return f"clash:{entry.cause}"
    return None
