"""Whether a train that counts as departed has surely gone: what its departure shows is said only then.

Rule: a departure is held to be one as soon as nothing speaks against it; that another engine may have gone in its place, or
that it only shunts, is ruled out when its engine is surely elsewhere, or when somebody has told of it. Once sure it stays
so until the train next departs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.moves import PLAIN
from bridge.core.trains import Train

if TYPE_CHECKING:
    from bridge.core.state import State


def train_left(state: State, train: Train, station: str, was_told: bool) -> None:
    """A train has departed from a station."""
    train.left, train.is_gone = station, was_told or is_away(state, train.engine, station)


def train_ended(train: Train) -> None:
    """A working is over: what it leaves undone shows, wherever its engine is."""
    train.is_gone = True


def look_again(state: State, vehicle: str) -> None:
    """What is believed of a vehicle may have changed: is the train that it works surely gone now?"""
    train = state.roster.current(vehicle)
    if train is None or train.is_gone or train.left is None or not is_away(state, vehicle, train.left):
        return
    train.is_gone = True
    state.touch("train", train.id)
    state.touch("freight", train.id)


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
