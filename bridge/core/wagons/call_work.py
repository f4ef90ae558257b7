"""What each call of a working is to lift and set out, as it stands now, in the order in which a crew comes to it.

Rule: read from the state, changing nothing. Which call does a row is the plan's; whether it is done, and what stands before
a vehicle, is what is known now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.forecast.rows import Handled, handled

if TYPE_CHECKING:
    from bridge.core.movement.trains import Train
    from bridge.core.state import State
    from bridge.core.wagons.moves import MoveNow

LATE = 1_000_000  # behind whatever is still in its place


@dataclass(frozen=True, slots=True)
class Task:
    """One row at one call: `does` is "lift", "set-out" or "shift" (from road to road of the station), `state` "to-do",
    "done" or "failed"; `behind` are the vehicles that stand before it, the nearest to the engine or the open end first."""

    vehicle: str
    does: str
    start: str
    goal: str
    state: str
    sure: float
    behind: tuple[str, ...]


def plan_of(state: State) -> Mapping[str, tuple[Handled, ...]]:
    """Of each working, the rows that it is booked to do and the calls at which it does them."""
    return {} if state.railway is None else handled(state.railway)


def tasks(state: State, train: Train, rows: tuple[Handled, ...], call: int) -> tuple[Task, ...]:
    """What a train is to do at a call (from 0): to set out first, then to lift, each from the nearest on."""
    found = [_task(state, train, row, call) for row in rows if call in (row.lifted, row.set_out)]
    order = {"set-out": 0, "shift": 1, "lift": 2}
    near = [
        (order[t.does], t.start if t.does != "set-out" else "", t.state != "to-do", _depth(t), i)
        for i, t in enumerate(found)
    ]
    return tuple(found[i] for *_, i in sorted(near))


def _depth(task: Task) -> int:
    return len(task.behind) if task.state == "to-do" else LATE


def _task(state: State, train: Train, row: Handled, call: int) -> Task:
    now, move = state.freight.moves[row.move.index], row.move
    does = "shift" if row.is_local and row.lifted is not None else "lift" if call == row.lifted else "set-out"
    how, sure = _stands(now, does)
    behind = _before(state, train, move.vehicle) if how == "to-do" else ()
    return Task(move.vehicle, does, move.from_road, move.to_road, how, sure, behind)


def _stands(now: MoveNow, does: str) -> tuple[str, float]:
    """How a row stands, as far as this call is concerned."""
    if does == "lift" and now.state in ("in-train", "done"):
        return "done", now.sure if now.state == "in-train" else 1.0
    if now.state == "done" or now.is_out:
        return "done", now.sure
    return ("to-do" if now.state in ("booked", "in-train") else "failed"), now.sure


def _before(state: State, train: Train, vehicle: str) -> tuple[str, ...]:
    """What stands between a vehicle and its engine, where it goes with that; else between it and where its road is open, by
    the shorter way."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    rake = tuple(where.company(train.engine))
    if vehicle in rake and train.engine in rake:
        at, engine = rake.index(vehicle), rake.index(train.engine)
        return rake[engine + 1 : at] if engine < at else rake[at + 1 : engine][::-1]
    place = where.place(vehicle)
    line = tuple(v for v in where.line(place) if v == vehicle or v not in rake)
    road = railway.plant.roads.get(place)
    if vehicle not in line or road is None:
        return ()
    at = line.index(vehicle)
    ways = {"up": line[:at], "down": line[:at:-1]}
    return min((ways[end] for end in road.open if end in ways), key=len, default=())
