"""Trains that are on their way for too long: not seen where they should be by half as long again as is booked.

Rule: counted by the session clock from when the train went out, so a stopped clock stops it; it is over as soon as the train
comes out of its section, at either end. It is said of a train that has surely gone, and not where something has told there
that may be the train: its booked road become occupied, a treadle for tails passed, its token laid down.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Overdue
from bridge.core.plant import Detector, Section
from bridge.core.presence import Presence
from bridge.core.readings import far_throat, in_the_dark, limit
from bridge.core.trains import Phase, Train, run_s, section_after

if TYPE_CHECKING:
    from bridge.core.state import State

AGAIN_S = 60.0  # of the session clock; so long after it was due it is asked again whether a train has surely gone


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed: when is it overdue?"""
    state.overdue.pop(train.id, None)
    state.timed.drop("overdue", train.id)
    left_s, running_s = state.clock.session_s(presence.out_t), _running_s(state, train, presence)
    if left_s is not None and running_s is not None and _would_be_seen(state, train, presence):
        state.timed.set("overdue", train.id, left_s + limit(state, "overdue_factor", 1.5) * running_s)


def come_due(state: State, train_id: str) -> None:
    """A train should have been seen by now."""
    train = state.roster.trains[train_id]
    presence = unseen(state, train)
    if presence is None or _is_told_of(state, train, presence) or _may_have_come(state, train, presence):
        return
    now_s = state.clock.session_s(state.t)
    if not train.is_gone and now_s is not None:
        state.timed.set("overdue", train_id, now_s + AGAIN_S)
        return
    evidence = () if presence.n is None else (presence.n,)
    booked_s = _running_s(state, train, presence) or 0.0
    cause = f"overdue:{train_id}:{presence.cause}"
    state.overdue[train_id] = Overdue(cause, booked_s, _unheard(state, presence), evidence)
    state.touch("train", train_id)


def unseen(state: State, train: Train) -> Presence | None:
    """The stay of a train in a section out of which nobody has seen it come; None where it is anywhere else."""
    rows = state.presences.get(train.section or "", ()) if train.phase is Phase.IN_SECTION else ()
    return next((p for p in reversed(rows) if p.train == train.id and p.departed and p.out_at is None), None)


def _is_told_of(state: State, train: Train, presence: Presence) -> bool:
    """True where an operator knows of the train: has given back what it had for the section, or let it into the next."""
    railway, far = state.railway, far_throat(state, presence).partition(".")[0]
    assert railway is not None
    held = [s for s, grants in state.authorities.grants.items() if s != presence.section and train.id in grants]
    return presence.told_clear or any(far in railway.plant.sections[s].stations for s in held)


def _running_s(state: State, train: Train, presence: Presence) -> float | None:
    """How long its run is booked to take: by the timetable, else as its kind takes in that section; session seconds."""
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[presence.section]
    booked = section_after(railway, train)
    if train.working is None or booked is None or not _joins_alike(section, booked):
        return None
    return run_s(railway, train.working, train.call, section)


def _would_be_seen(state: State, train: Train, presence: Presence) -> bool:
    """True where something would tell of the train's coming: at the end of its section, or on its way to its road. Where
    nothing does, that it has not been seen is no news. A treadle for tails tells of a train that has one."""
    railway, where, then = state.railway, state.where, train.next_call()
    assert railway is not None and where is not None
    plant, far = railway.plant, far_throat(state, presence)
    stretches = [presence.section, far, *((then.road,) if then is not None else ())]
    ends = [f"{presence.section}@{far.partition('.')[0]}"]
    ends += [f"{then.road}@{end}" for end in plant.roads[then.road].open] if then is not None else []
    has_tail = any(railway.stock[v].tail for v in where.company(train.engine))
    there = [d for end in ends for d in plant.standing_at.get(end, ())]
    return any(plant.covering.get(s) for s in stretches) or any(has_tail or d.sees != "tail" for d in there)


def _may_have_come(state: State, train: Train, presence: Presence) -> bool:
    """True where something at the far end has told since the train went out that may be the train, though it was held to be
    another, or nobody."""
    railway, conditioning, then = state.railway, state.conditioning, train.next_call()
    assert railway is not None and conditioning is not None
    plant, section, station = railway.plant, presence.section, far_throat(state, presence).partition(".")[0]
    token = state.authorities.tokens.get(section)
    if token is not None and token.station == station and not token.assumed and (token.since_n or 0) > (presence.n or 0):
        return True
    if any(
        _told_t(state, d) > presence.out_t for d in plant.standing_at.get(f"{section}@{station}", ()) if d.sees == "tail"
    ):
        return True
    on_road = [conditioning.detectors[d.id] for d in plant.covering.get(then.road, ())] if then is not None else []
    return any(now.state == "occupied" and now.lasts_t > presence.out_t for now in on_road)


def _told_t(state: State, treadle: Detector) -> float:
    """When a treadle last told of a passing."""
    conditioning = state.conditioning
    assert conditioning is not None
    changes = conditioning.detectors[treadle.id].changes
    return changes[-1] if changes else 0.0


def _joins_alike(one: Section, other: Section) -> bool:
    """True where two sections join the same stations."""
    return set(one.stations) == set(other.stations)


def _unheard(state: State, presence: Presence) -> tuple[str, ...]:
    """What of the detection could explain that it was not seen."""
    railway = state.railway
    assert railway is not None
    plant, far = railway.plant, far_throat(state, presence)
    ends = [b for b in plant.at_stretch[presence.section] if b.throat == far]
    treadles = [d for b in ends for d in plant.standing_at.get(b.id, ())]
    tracks = [d for stretch in plant.stretches_of(plant.station_of(far)) for d in plant.covering.get(stretch, ())]
    return in_the_dark(state, [*treadles, *tracks])
