"""What is plain enough of trains and sections that a danger may rest on it.

Rule: a danger is said where its evidence is plain. Where a train may be, but may as well be elsewhere, nothing is concluded
from its being there; nor is it proved to be away. What is said of it then, advice says: look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.presence import NEAR_S
from bridge.core.readings import stretch_state
from bridge.core.wagons.moves import LIKELY, PLAIN
from bridge.core.whereabouts import Crossing

if TYPE_CHECKING:
    from bridge.core.state import State

KNOWN = 0.8  # of an engine whose place is less sure it is not known what goes with it: from virtual evenings
TOLD_S = 2.0  # what tells of the same thing tells so soon: a vehicle is over a section end in that time


def is_there(state: State, engine: str, section: str, least: float = LIKELY) -> bool:
    """True where something of an engine's train is plainly in a section, and it is known where the engine is: a vehicle that
    is read may else go with another engine than is held. `least`: how likely it must be, be it read there or not."""
    mine = _led_by(state, engine, section)
    return _is_known(state, engine) and any(is_in(state, v, section, least) for v in mine)


def is_read_going(state: State, crossing: Crossing, engine: str, throat: str) -> bool:
    """True where a vehicle was read as it went into a section that nothing has occupied, by an engine that is somewhere at
    hand: there, or at the station that it leaves."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    section = crossing.goal
    at_hand = {section, *railway.plant.stretches_of(railway.plant.throats[throat].station)}
    by_it = sum(likely for place, likely in where.likely(engine).items() if place in at_hand)
    is_read = crossing.by == "seen" and is_in(state, crossing.vehicle, section, PLAIN)
    return is_read and by_it >= PLAIN and stretch_state(state, section) != "occupied"


def has_stood(state: State, engine: str, section: str) -> bool:
    """True where vehicles that go with an engine were read as they came into a section, and have been there for a while:
    whatever leads them."""
    where = state.where
    assert where is not None
    mine = [v for v in _led_by(state, engine, section) if where.belief(v).by == "seen"]
    return any(is_in(state, v, section, PLAIN) and where.since(v) <= state.t - NEAR_S for v in mine)


def is_in(state: State, vehicle: str, section: str, least: float = LIKELY) -> bool:
    """True where a vehicle is plainly in a section. One that was read at its end may always have come to the reader and gone
    back, and is held to be in it all the same."""
    where = state.where
    assert where is not None
    least = least if where.belief(vehicle).by == "seen" else PLAIN
    return where.likely(vehicle).get(section, 0.0) >= least and _is_known(state, vehicle)


def is_out(state: State, vehicle: str, section: str) -> bool:
    """True where a vehicle is plainly not in a section."""
    where = state.where
    assert where is not None
    return where.likely(vehicle).get(section, 0.0) <= 1.0 - PLAIN


def is_followed(state: State, engine: str) -> bool:
    """False for an engine that may be otherwhere than at any of the places at which it is held to be likely: too much that
    could have been was let go."""
    where = state.where
    assert where is not None
    belief = where.belief(engine)
    return belief.sure >= KNOWN * where.likely(engine).get(belief.place, 0.0)


def least_for(state: State, crossing: Crossing, throat: str) -> float:
    """How likely a train must be in a section which a vehicle of it has entered by a throat: whoever has not been at that
    station, as far as anything has told, may as well have come out there."""
    railway = state.railway
    assert railway is not None
    station = railway.plant.throats[throat].station
    return LIKELY if railway.plant.station_of(crossing.start) == station else PLAIN


def is_witnessed(state: State, crossing: Crossing, throat: str) -> bool:
    """True where something at a section has told of a vehicle that has entered it. Who is only reckoned to have gone in, for
    others to have room where they were seen, may have gone elsewhere."""
    told = state.t - state.passed_at.get(throat, -1e9) <= TOLD_S or stretch_state(state, crossing.goal) == "occupied"
    return told or crossing.by not in ("order", "carried")


def _led_by(state: State, engine: str, section: str) -> list[str]:
    where = state.where
    assert where is not None
    return [v for v in where.line(section) if where.leader(v) == engine]


def _is_known(state: State, vehicle: str) -> bool:
    where = state.where
    assert where is not None
    belief = where.belief(vehicle)
    return belief.sure >= (LIKELY if belief.by == "seen" else KNOWN)
