"""What operators tell of the drawing of the line: where a station stands in it, and the order of its roads.

Rule: it may be told at any time, also while no session runs.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.drawn import BY_ITSELF, Drawn, in_order
from bridge.core.operator import words

if TYPE_CHECKING:
    from bridge.core.state import State


def draw(state: State, told: words.Draw) -> str:
    """Draw a station or a road otherwise, or a station by itself again."""
    assert state.railway is not None
    plant = state.railway.plant
    match told.at:
        case (right, down):
            _keep(state, told.what, replace(_now(state, told.what), right=right, down=down))
            return f"{told.what} is drawn {abs(right)} to the {'left' if right < 0 else 'right'} and {down} down."
        case (number,):
            station = plant.roads[told.what].station
            was = _now(state, station)
            others = [road for road in in_order(was, plant.stations[station].roads) if road != told.what]
            others.insert(number - 1, told.what)
            by_itself = tuple(others) == plant.stations[station].roads
            _keep(state, station, replace(was, roads=() if by_itself else tuple(others)))
            return f"{told.what} is drawn as road {others.index(told.what) + 1} from the top."
        case _:
            _keep(state, told.what, BY_ITSELF)
            return f"{told.what} is drawn by itself again."


def opposite(state: State, told: words.Draw) -> words.Word | None:
    """The word that draws it as it is drawn now."""
    if state.railway is None or words.unknown(told, state.railway) is not None:
        return None
    plant = state.railway.plant
    if len(told.at) == 1:
        station = plant.roads[told.what].station
        order = in_order(_now(state, station), plant.stations[station].roads)
        return words.Draw(told.what, (order.index(told.what) + 1,))
    now = _now(state, told.what)
    return words.Draw(told.what, (now.right, now.down))


def _now(state: State, station: str) -> Drawn:
    return state.drawn.get(station, BY_ITSELF)


def _keep(state: State, station: str, drawn: Drawn) -> None:
    state.drawn.pop(station, None)
    if drawn != BY_ITSELF:
        state.drawn[station] = drawn
