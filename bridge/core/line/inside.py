"""Whether a train that went into a section is plainly there still, or may have left it with nothing telling of that.

Rule: where nothing tells of who comes out, a train is plainly in a section for no longer than it takes through it; where
something has told that it comes out, for no longer than its end takes to follow. A section that says occupied all the while
keeps it in. Who may have left is no danger to the next by that alone: advice says look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.line import divided, line_clear, plainly
from bridge.core.line.behind import still_inside
from bridge.core.plant import DetectorKind, RoadKind
from bridge.core.presence import Presence
from bridge.core.readings import far_throat, limit
from bridge.core.trains import Train, run_s, section_after
from bridge.core.wagons.moves import LIKELY, PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State


def is_plainly_in(state: State, presence: Presence) -> bool:
    """True where something of a train is plainly in its section; of one that has come out, more than its engine."""
    where = state.where
    assert where is not None
    if plainly.follows_unseen(state, presence) or not line_clear.has_plainly_gone(state, presence):
        return False
    if may_have_left(state, presence):
        return False
    if presence.out_at is None:
        least = LIKELY if _is_booked_in(state, presence) else PLAIN
        there = plainly.is_there(state, presence.engine, presence.section, presence.out_t, least)
        return there or plainly.has_stood(state, presence.engine, presence.section)
    mine = still_inside(state, presence)
    return any(plainly.is_in(state, v, presence.section) for v in mine if v != presence.engine)


def left(state: State, section: str, but: str) -> frozenset[str]:
    """The trains that went into a section and are not plainly there any more; not the train `but`."""
    rows = [p for p in state.presences.get(section, ()) if p.train != but and not divided.is_open(p)]
    return frozenset(p.train for p in rows if not is_plainly_in(state, p))


def may_have_left(state: State, presence: Presence) -> bool:
    """True where a train may long have left its section, and nothing there would have told of it, or has told of no more."""
    if divided.is_open(presence) or _has_kept_occupied(state, presence):
        return False
    if presence.out_at is not None:
        times = [t for t in (presence.out_sign_t, presence.out_t_far, presence.passed_t) if t is not None]
        return state.t >= max(times, default=state.t) + limit(state, "complete_after", 30.0)
    return presence.departed and not _would_be_told(state, presence) and _has_had_time(state, presence)


def doubt_reckoned(state: State, section: str, train: Train, went_t: float) -> None:
    """A train is read going into a section: what moved there moments ago, and was put down to another of which nothing was
    read, was this one."""
    where = state.where
    assert where is not None
    for presence in state.presences.get(section, ()):
        if presence.engine == train.engine or presence.out_at is not None or went_t - presence.out_t > plainly.STRING_S:
            continue
        if not any(where.belief(v).by == "seen" for v in still_inside(state, presence)):
            for entry in [e for e in state.entries.get(section, ()) if e.cause == presence.cause]:
                entry.is_plain = False
                state.touch("section", section)


def _is_booked_in(state: State, presence: Presence) -> bool:
    """False for a working that is booked elsewhere than into its section: it only shunts there, and may long be back."""
    railway, train = state.railway, state.roster.trains[presence.train]
    assert railway is not None
    booked = None if train.working is None else section_after(railway, train)
    return booked is None or set(booked.stations) == set(railway.plant.sections[presence.section].stations)


def _has_kept_occupied(state: State, presence: Presence) -> bool:
    """True where a detector of the section has said occupied ever since its train went in."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(presence.section, ())]
    went_t = max(presence.out_t, presence.last_sign_t if presence.out_at is None else presence.out_t) + line_clear.OWN_S
    return any(now.state == "occupied" and now.lasts_t <= went_t and state.t > went_t for now in rows)


def _would_be_told(state: State, presence: Presence) -> bool:
    """True where something tells of who comes out of a section at its far end: there, in the throat, or on every road by
    which one can come in."""
    railway, far = state.railway, far_throat(state, presence)
    assert railway is not None
    plant, station = railway.plant, railway.plant.throats[far].station
    if plant.covering.get(presence.section) or plant.covering.get(far):
        return True
    if any(d.kind is not DetectorKind.POINTS for d in plant.standing_at.get(f"{presence.section}@{station}", ())):
        return True
    through = [b.outer for b in plant.at_stretch[far] if b.outer in plant.roads]
    through = [road for road in through if plant.roads[road].kind is not RoadKind.SIDING]
    return bool(through) and all(plant.covering.get(road) for road in through)


def _has_had_time(state: State, presence: Presence) -> bool:
    """True where a train has been out for as long as it is booked to run through its section."""
    railway, train = state.railway, state.roster.trains[presence.train]
    assert railway is not None
    now_s, section = state.clock.session_s(state.t), railway.plant.sections[presence.section]
    takes_s = None if train.working is None else run_s(railway, train.working, train.call, section)
    return now_s is not None and presence.out_s is not None and takes_s is not None and now_s - presence.out_s >= takes_s
