"""Hints that only the former engine leans on, read from the state behind the core's own expectations."""

from __future__ import annotations

from bridge.core.expected import Expected
from bridge.core.wagons import booked
from bridge.core.whereabouts import Prior


def steady(prior: Prior, stretch: str) -> bool:
    """True where a track detector of a stretch says occupied at this moment, not only of late."""
    assert isinstance(prior, Expected)
    railway, conditioning = prior._state.railway, prior._state.conditioning
    assert railway is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(stretch, ())]
    return any(now.state == "occupied" and now.raw == "on" for now in rows)


def occupied_since(prior: Prior, stretch: str) -> float | None:
    """Host seconds since when a stretch says occupied without a break; None where it does not."""
    assert isinstance(prior, Expected)
    railway, conditioning = prior._state.railway, prior._state.conditioning
    assert railway is not None and conditioning is not None
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(stretch, ())]
    return min((now.since_t for now in rows if now.state == "occupied"), default=None)


def settled_elsewhere(prior: Prior, vehicle: str) -> bool:
    """True where the road on which a vehicle is booked to stay would have told of it, and has not."""
    assert isinstance(prior, Expected)
    railway, now = prior._state.railway, booked.open_move(prior._state, vehicle)
    if railway is None or now is None:
        return False
    road = railway.plant.roads[now.move.to_road]
    return any(railway.plant.read_at(f"{road.id}@{end}") for end in road.open)
