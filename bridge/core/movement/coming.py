"""Trains coming: out of a section at its far end, or back where they went in.

Rule: who is seen at a station has come there, by whatever way; what nothing has told of is taken from where it is seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.line import divided
from bridge.core.line.behind import lagging, section_proof, section_says, still_inside
from bridge.core.movement import clearing
from bridge.core.movement.going import back, depart, end_train, gone_unseen
from bridge.core.presence import Presence
from bridge.core.trains import Phase, Train
from bridge.core.wagons.away import surely_at
from bridge.core.whereabouts import Crossing

if TYPE_CHECKING:
    from bridge.core.state import State


def come_out(state: State, crossing: Crossing, engine: str, section: str, throat: str) -> None:
    """A vehicle has come out of a section, at the far end or back where it went in."""
    where = state.where
    assert where is not None
    rows = [p for p in state.presences.get(section, ()) if p.engine == engine and p.cleared != "complete"]
    if not rows:
        return
    presence = rows[-1]
    if throat == presence.start and presence.out_at is None:
        presence.last_sign_t = max(presence.last_sign_t, crossing.t)
        if not still_inside(state, presence) and (crossing.by == "seen" or not _holds(state, presence)):
            back(state, presence, crossing.n)
        return
    if presence.out_at is None:
        presence.out_at, presence.out_t_far = throat, crossing.t
        divided.comes_out(state, presence, crossing.vehicle)
        state.touch("section", section)
        state.touch("train", presence.train)
    presence.out_sign_t = crossing.t
    if not presence.departed:
        depart(state, presence, state.roster.trains[presence.train])
    if crossing.by == "seen" and not still_inside(state, presence) and not lagging(state, presence):
        clearing.cleared(state, presence, True, crossing.n)


def _holds(state: State, presence: Presence) -> bool:
    """True where a section still says occupied, and only this train can be meant: what is merely taken to be back is not."""
    assert state.where is not None
    alone = all(p is presence for p in state.presences.get(presence.section, ())) and not state.where.line(presence.section)
    return alone and "occupied" in section_says(state, presence.section)


def try_back(state: State, presence: Presence) -> bool:
    """Whether a train that went out is back at its station, with nothing left in the section: then that was a shunt; or it
    has turned out that it never went."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    has_stayed = _has_stayed(state, presence)
    if has_stayed or (presence.told_clear and not presence.departed):
        back(state, presence, max(where.belief(presence.engine).evidence, default=None), has_stayed=has_stayed)
        return True
    if presence.out_at is not None or not railway.stock[presence.engine].detected:
        return False
    states = section_says(state, presence.section)
    is_clear = bool(states) and all(word == "clear" for word in states)
    at_station = railway.plant.station_of(where.place(presence.engine)) == presence.start.partition(".")[0]
    if is_clear and at_station and not still_inside(state, presence):
        back(state, presence, section_proof(state, presence.section))
        return True
    return False


def _has_stayed(state: State, presence: Presence) -> bool:
    """True where the engine of a train that counts as departed is surely on a road of the station that it should have left,
    and nothing of the train is held to be in the section, nor does that say occupied."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    train, station = state.roster.trains[presence.train], presence.start.partition(".")[0]
    if not presence.departed or train.phase is not Phase.IN_SECTION or train.section != presence.section:
        return False
    on_road = where.place(presence.engine) in railway.plant.roads
    if not on_road or surely_at(state, presence.engine) != station or "occupied" in section_says(state, presence.section):
        return False
    return not still_inside(state, presence)


def turn_up(state: State, crossing: Crossing, engine: str) -> None:
    """An engine is at a station: if its train was believed elsewhere, it has gone there without a section end telling."""
    railway = state.railway
    assert railway is not None
    train, station = state.roster.current(engine), railway.plant.station_of(crossing.goal)
    if train is None or station is None or train.station in (None, station) or train.phase is Phase.ENDED:
        return
    if train.phase is Phase.AT_STATION:
        section = railway.plant.section_between(train.station or "", station)
        if section is None:
            return
        throat = section.from_throat if section.from_throat.startswith(f"{train.station}.") else section.to_throat
        presence: Presence | None = gone_unseen(state, train, section, throat, crossing.t, crossing.n)
    else:
        presence = presence_of(state, train)
    if presence is not None and presence.out_at is None:
        come_out_at(state, presence, station)
        if presence.out_at is not None and not presence.departed:
            depart(state, presence, train)


def presence_of(state: State, train: Train) -> Presence | None:
    """The stay of a train in the section that it is in, or has come out of last."""
    rows = state.presences.get(train.section or "", [])
    return next((p for p in reversed(rows) if p.train == train.id), None)


def come_out_at(state: State, presence: Presence, station: str) -> None:
    """A train has come out of its section at a station without the section end having told of it."""
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[presence.section]
    for throat in section.throats:
        if throat.partition(".")[0] == station and throat != presence.start:
            presence.out_at, presence.out_t_far, presence.out_sign_t = throat, state.t, state.t


def cancel(state: State, train: Train) -> None:
    """A working does not run, or no further: what it was to do is carried over, and nothing of it was missed."""
    end_train(state, train, is_cancelled=True)
