"""Lengths held against the plan: overfull roads, trains too long for their road, two trains on one road.

Rule: what cannot be worked as it is booked is a conflict; a train that overhangs where nobody is in its way is worth knowing
and no more.
"""

from __future__ import annotations

from bridge.core.plan import Working
from bridge.folder.clock import when
from bridge.folder.compositions import Compositions, Stay
from bridge.folder.ends import OTHER, comes_at, goes_at
from bridge.folder.finding import listed
from bridge.folder.places import Places
from bridge.forecast.crowding import Crowded, crowded
from bridge.forecast.overfull import SLACK_MM


def tell_fits(trains: Compositions, places: Places) -> None:
    """Conflicts and advice about room."""
    for over in crowded(trains.railway, trains.course, trains.rows):
        _overfull(trains, over, places)
    for working in trains.railway.workings.values():
        if working.calls and ("working", working.id) not in places.doubtful:
            _too_long(trains, working, places)
    for stays in trains.stays.values():
        by_road: dict[str, list[Stay]] = {}
        for stay in sorted(stays, key=lambda s: s.from_s):
            before = by_road.setdefault(stay.road, [])
            for other in before:
                if other.meets(stay):
                    _shared(trains, other, stay, places)
            before.append(stay)


def _overfull(trains: Compositions, over: Crowded, places: Places) -> None:
    stand = f"{over.stands_mm:g} mm ({listed(over.vehicles)})"
    foul = f"they foul {listed(over.fouls)}"
    if over.at is None or over.move is None:
        spot = places.spots["standing", over.vehicles[-1]]
        message = f"Road {over.road} has {over.length_mm:g} mm, and {stand} stand on it: {foul}."
        places.findings.conflict(spot, message, "Stand one of them elsewhere, or correct a length.")
        return
    working = trains.railway.workings[over.at.working]
    then = when(working.calls[over.at.call])
    message = (
        f"Road {over.road} has {over.length_mm:g} mm, and after working {working.id}{then} {stand} stand on it: {foul}."
    )
    places.findings.conflict(
        places.spots["move.to", over.move.index], message, "Book one of them elsewhere, or lift another first."
    )


def _too_long(trains: Compositions, working: Working, places: Places) -> None:
    for call in working.calls:
        road = trains.railway.plant.roads[call.road]
        train_mm, leaving_mm = (trains.length_mm(trains.vehicles(working, n)) for n in (call.index, call.index + 1))
        met = trains.met(working, call) if max(train_mm, leaving_mm) > road.length_mm + SLACK_MM else []
        spot = places.spots["call.road", working.id, call.index]
        message = f"The train of working {working.id} is {train_mm:g} mm long here, road {road.id} {road.length_mm:g} mm"
        if train_mm > road.length_mm + SLACK_MM:
            if met:
                message += f": it is in the way of {listed(met)}."
                places.findings.conflict(spot, message, "Book a longer road, shorten the rake, or let them meet elsewhere.")
            else:
                message += ": its end stands in the throat."
                places.findings.advice(spot, message, "Nobody is booked past it; take care while shunting.")
        elif met and call is not working.calls[-1]:
            message = f"With what it lifts here the train of {working.id} is {leaving_mm:g} mm long, road {road.id} "
            message += f"{road.length_mm:g} mm: then it is in the way of {listed(met)}."
            places.findings.advice(spot, message, "Let it lift once they have passed.")


def _shared(trains: Compositions, first: Stay, second: Stay, places: Places) -> None:
    together_mm = trains.length_mm([*first.vehicles, *second.vehicles])
    road = trains.railway.plant.roads[second.road]
    spot = places.spots["call.road", second.working, second.call]
    message = f"Workings {first.working} and {second.working} are both booked on {road.id} at one time"
    remedy = f"Book another road for {second.working}, or change a time."
    shut_in = _shut_in(trains, first, second)
    if together_mm > road.length_mm + SLACK_MM:
        message += f", and are {together_mm:g} mm together where there are {road.length_mm:g} mm."
        places.findings.conflict(spot, message, remedy)
    elif shut_in is not None:
        message += f": {shut_in[0]} cannot leave while {shut_in[1]} stands in its way."
        places.findings.conflict(spot, message, remedy)
    else:
        places.findings.advice(spot, message + ".", "There is room for both, one behind the other.")


def _shut_in(trains: Compositions, first: Stay, second: Stay) -> tuple[str, str] | None:
    """Of two trains on one road the one that is booked to leave first, past the other, and that other."""
    plant, workings = trains.railway.plant, trains.railway.workings
    came_at = comes_at(plant, workings[second.working], second.call)
    if came_at is None:
        return None
    if first.to_s < second.to_s and goes_at(plant, workings[first.working], first.call) == came_at:
        return first.working, second.working
    if second.to_s < first.to_s and goes_at(plant, workings[second.working], second.call) == OTHER[came_at]:
        return second.working, first.working
    return None
