"""Trains booked onto a road where vehicles stand that no train is working.

Rule: too little room for both is a conflict; what only stands in the way of a train that goes on is worth knowing. What the
train lifts from that road at that call is not in its way.
"""

from __future__ import annotations

from bridge.core.plan import Call, Working
from bridge.folder.clock import when
from bridge.folder.compositions import Compositions
from bridge.folder.ends import OTHER, comes_at, goes_at
from bridge.folder.finding import listed
from bridge.folder.places import Places
from bridge.forecast.yard import Yard


def tell_in_the_way(trains: Compositions, places: Places) -> None:
    """Conflicts and advice for every call after the first."""
    yard = Yard(trains.railway, trains.rows)
    for step in trains.course:
        if step.call and not step.leaves and ("working", step.working) not in places.doubtful:
            working = trains.railway.workings[step.working]
            call = working.calls[step.call]
            lifted = {row.move.vehicle for row in yard.lifts(step.working, step.call)}
            stand = [vehicle for vehicle in yard.on(call.road) if vehicle not in lifted]
            if stand:
                _tell(trains, working, call, stand, places)
        yard.take(step)


def _tell(trains: Compositions, working: Working, call: Call, stand: list[str], places: Places) -> None:
    railway = trains.railway
    road = railway.plant.roads[call.road]
    train_mm, stand_mm = trains.length_mm(trains.vehicles(working, call.index)), trains.length_mm(stand)
    spot = places.spots["call.road", working.id, call.index]
    message = f"On {road.id} {listed(stand)} {'stands' if len(stand) == 1 else 'stand'} when {working.id}{when(call)} comes"
    came_at = comes_at(railway.plant, working, call.index)
    if train_mm <= road.length_mm < train_mm + stand_mm:
        message += f": with its train of {train_mm:g} mm that makes {train_mm + stand_mm:g} mm where there are"
        message += f" {road.length_mm:g} mm."
        places.findings.conflict(spot, message, "Book another road, or have them lifted first.")
    elif came_at is not None and goes_at(railway.plant, working, call.index) == OTHER[came_at]:
        message += f", and it goes on at the {OTHER[came_at]} end."
        places.findings.advice(spot, message, "They have to be put elsewhere before it can; or book another road.")
