"""Whether a vehicle is surely at a station, or surely not.

Rule: certain as the contract has it, and of that alone: at which of the places there or beyond it is, does not matter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.wagons.moves import PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State


def is_away(state: State, vehicle: str, station: str, least: float = PLAIN) -> bool:
    """True where a vehicle is surely not at a station, or as surely as `least`: whichever of the places beyond it is at."""
    return _chance(state, vehicle, station, is_there=False) >= least


def surely_at(state: State, vehicle: str) -> str | None:
    """The station at which a vehicle surely is, on whichever of its roads; None where it may be elsewhere."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    station = railway.plant.station_of(where.place(vehicle))
    return station if station is not None and _chance(state, vehicle, station, is_there=True) >= PLAIN else None


def _chance(state: State, vehicle: str, station: str, *, is_there: bool) -> float:
    """How sure it is that a vehicle is at a station, or is not."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    likely, belief = where.likely(vehicle), where.belief(vehicle)
    held = likely.get(belief.place, 0.0)
    if held <= 0.0:
        return 0.0
    there = sum(chance for place, chance in likely.items() if railway.plant.station_of(place) == station)
    return (there if is_there else 1.0 - there) * min(1.0, belief.sure / held)
