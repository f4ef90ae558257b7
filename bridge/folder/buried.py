"""Wagons to be lifted that stand behind others.

Rule: only what the plan proves is told: the order in which things stand at the start, and what is pushed in later by another
call. It is advice: any crew can draw them out, and is glad to know before it is there.
"""

from __future__ import annotations

from bridge.folder.clock import when
from bridge.folder.compositions import Compositions
from bridge.folder.finding import listed
from bridge.folder.places import Places
from bridge.forecast.yard import Yard


def tell_buried(trains: Compositions, places: Places) -> None:
    """Advice for every wagon that others must be drawn out for."""
    yard = Yard(trains.railway, trains.rows)
    for step in trains.course:
        if step.leaves and ("working", step.working) not in places.doubtful:
            call = trains.railway.workings[step.working].calls[step.call]
            for row in yard.lifts(step.working, step.call):
                vehicle, road = row.move.vehicle, row.move.from_road
                front = yard.in_front(vehicle, step) if vehicle in yard.on(road) else []
                if front:
                    stand = "stands" if len(front) == 1 else "stand"
                    message = f"{listed(front)} {stand} before {vehicle} on {road} when {step.working}{when(call)} lifts it."
                    spot = places.spots["move.vehicle", row.move.index]
                    places.findings.advice(spot, message, _remedy(len(front)))
        yard.take(step)


def _remedy(count: int) -> str:
    if count == 1:
        return "That one has to be drawn out first and put back, or be lifted too."
    return f"These {count} have to be drawn out first and put back, or be lifted too."
