"""Departures too early: before the booked time, or before the trains for which a train is booked to wait.

Rule: judged once a train has departed, by the moment at which it went out; a train that only shunts, or leaves for
elsewhere than it is booked, leaves nothing too early. What such a departure shows stands until the train next departs or
ends.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.advice.rivals import has_come
from bridge.core.facts import Early
from bridge.core.line import plainly
from bridge.core.plan import Call
from bridge.core.presence import Presence
from bridge.core.readings import in_the_dark, limit
from bridge.core.trains import Phase, Train, calls_at
from bridge.core.wagons.away import is_away

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed, `late_s` after its booked time: was that too early?"""
    state.early.pop(train.id, None)
    call, then, railway = train.this_call(), train.next_call(), state.railway
    assert railway is not None
    ends = set(railway.plant.sections[presence.section].stations)
    if call is None or then is None or ends != {call.station, then.station} or call.station != train.station:
        return
    early_s = 0 if train.late_s is None else -train.late_s
    sooner_s = early_s if early_s > 0 and early_s >= limit(state, "early_by", 60.0) else 0
    missing = tuple(w for w in call.wait_for if _has_surely_not_come(state, w, call, presence.out_t))
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
    """It is sure now that a train has departed: was it too early even when its engine was surely away?"""
    found, away_t = state.early.get(train.id), state.t if train.away_t is None else train.away_t
    if found is not None and found.sooner_s:
        away_s, out_s = state.clock.session_s(away_t), state.clock.session_s(found.happened)
        if away_s is None or out_s is None or found.sooner_s - (away_s - out_s) < limit(state, "early_by", 60.0):
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


def _has_surely_not_come(state: State, working: str, call: Call, t: float) -> bool:
    """True where a working had not come by host second `t` to the call at which this one is booked to wait for it, and its
    engine is surely not there."""
    train = state.roster.trains.get(working)
    if train is None or has_come(state, working, call, t):
        return False
    if plainly.is_read_elsewhere(state, train.engine):
        return False
    return train.phase is Phase.TO_COME or is_away(state, train.engine, call.station)


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
