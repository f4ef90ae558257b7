"""What tells whether a section is clear behind a train: its detectors, and what of the train is believed there still.

Rule: nothing here remembers or changes anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import said_by
from bridge.core.presence import NEAR_S, Presence

if TYPE_CHECKING:
    from bridge.core.state import State


def section_says(state: State, section: str) -> list[str]:
    """What each of a section's track detectors says, as far as it proves anything."""
    railway = state.railway
    assert railway is not None
    return [said_by(state, d.id) for d in railway.plant.covering.get(section, ())]


def has_felt(state: State, presence: Presence) -> bool:
    """True where all track detectors of its section have told of a train: from one that has not, clear proves nothing."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(presence.section, ())]
    return all(now.state != "clear" or now.lasts_t > presence.out_t - NEAR_S for now in rows)


def section_proof(state: State, section: str) -> int | None:
    """The journal number on which the last word of a section's detectors rests."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    numbers = [conditioning.detectors[d.id].evidence for d in railway.plant.covering.get(section, ())]
    return max((n for n in numbers if n is not None), default=None)


def still_inside(state: State, presence: Presence) -> list[str]:
    """The train's vehicles still believed in the section, its rearmost first."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    mine = [v for v in where.line(presence.section) if where.leader(v) == presence.engine]
    return mine if railway.plant.sections[presence.section].from_throat != presence.out_at else mine[::-1]


def lagging(state: State, presence: Presence) -> list[str]:
    """What goes with a train and is held to be at the station that it left: it may as well be in the section behind it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    left = railway.plant.station_of(presence.start)
    return [v for v in where.company(presence.engine) if railway.plant.station_of(where.place(v)) == left]


def works_detectors(state: State, presence: Presence, inside: list[str]) -> bool:
    """True where the train's last vehicle works track detectors, so that a clear section proves it out."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    if inside:
        return railway.stock[inside[0]].detected
    return all(railway.stock[v].detected for v in where.company(presence.engine))
