"""Whether a vehicle is surely not at a station.

Rule: certain as the contract has it, and of its being away alone: in which of the places beyond the station it is, does not
matter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.wagons.moves import PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State


def is_away(state: State, vehicle: str, station: str) -> bool:
    """True where a vehicle is surely not at a station: whichever of the places beyond it is at."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    likely, belief = where.likely(vehicle), where.belief(vehicle)
    held = likely.get(belief.place, 0.0)
    if held <= 0.0:
        return False
    there = sum(chance for place, chance in likely.items() if railway.plant.station_of(place) == station)
    return (1.0 - there) * min(1.0, belief.sure / held) >= PLAIN
