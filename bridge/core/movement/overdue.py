"""Trains that are on their way for too long: not seen where they should be by half as long again as is booked.

Rule: counted by the session clock from when the train went out, so a stopped clock stops it; it is over as soon as the train
comes out of its section, at either end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Overdue
from bridge.core.plant import Section
from bridge.core.presence import Presence
from bridge.core.readings import far_throat, in_the_dark, limit
from bridge.core.trains import Phase, Train, run_s, section_after

if TYPE_CHECKING:
    from bridge.core.state import State


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
    if presence is not None and not _is_told_of(state, train, presence):
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
    nothing does, that it has not been seen is no news."""
    railway, then = state.railway, train.next_call()
    assert railway is not None
    plant, far = railway.plant, far_throat(state, presence)
    stretches = [presence.section, far, *((then.road,) if then is not None else ())]
    ends = [f"{presence.section}@{far.partition('.')[0]}"]
    ends += [f"{then.road}@{end}" for end in plant.roads[then.road].open] if then is not None else []
    return any(plant.covering.get(s) for s in stretches) or any(plant.standing_at.get(end) for end in ends)


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
