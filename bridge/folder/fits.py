"""Lengths held against the plan: overfull roads, trains too long for their road, two trains on one road.

Rule: what cannot be worked as it is booked is a conflict; a train that overhangs where nobody is in its way is worth knowing
and no more.
"""

from __future__ import annotations

from bridge.core.plan import Railway, Working
from bridge.folder.compositions import Compositions, Stay
from bridge.folder.finding import listed
from bridge.folder.places import Places
from bridge.forecast.overfull import Overfull, from_the_start


def tell_fits(railway: Railway, places: Places) -> None:
    """Conflicts and advice about room."""
    trains = Compositions(railway)
    for over in from_the_start(railway):
        _overfull(trains, over, places)
    for working in railway.workings.values():
        if working.calls and ("working", working.id) not in places.doubtful:
            _too_long(trains, working, places)
    for stays in trains.stays.values():
        for number, stay in enumerate(ordered := sorted(stays, key=lambda s: s.from_s)):
            before = [other for other in ordered[:number] if other.meets(stay) and other.road == stay.road]
            if before:
                _shared(trains, before[-1], stay, places)


def _overfull(trains: Compositions, over: Overfull, places: Places) -> None:
    stand = f"{over.stands_mm:g} mm ({listed(over.vehicles)})"
    foul = f"they foul {listed(over.fouls)}"
    if over.working is None:
        spot = places.spots["standing", over.vehicles[-1]]
        message = f"Road {over.road} has {over.length_mm:g} mm, and {stand} stand on it: {foul}."
        places.findings.conflict(spot, message, "Stand one of them elsewhere, or correct a length.")
        return
    working = trains.railway.workings[over.working]
    last = [handled.move for handled in trains.handled(working) if handled.move.to_road == over.road][-1]
    message = f"Road {over.road} has {over.length_mm:g} mm, and after working {over.working} {stand} stand on it: {foul}."
    places.findings.conflict(
        places.spots["move.to", last.index], message, "Book one of them elsewhere, or lift another first."
    )


def _too_long(trains: Compositions, working: Working, places: Places) -> None:
    for call, length_mm in zip(working.calls, trains.lengths_mm(working), strict=True):
        road = trains.railway.plant.roads[call.road]
        if length_mm <= road.length_mm:
            continue
        here = trains.stays.get(call.station, [])
        own = [stay for stay in here if (stay.working, stay.call) == (working.id, call.index)]
        met = dict.fromkeys(other.working for stay in own for other in here if stay.meets(other))
        spot = places.spots["call.road", working.id, call.index]
        message = f"The train of working {working.id} is {length_mm:g} mm long here, road {road.id} {road.length_mm:g} mm"
        if met:
            message += f": it is in the way of {listed(met)}."
            places.findings.conflict(spot, message, "Book a longer road, shorten the rake, or let them meet elsewhere.")
        else:
            message += ": its end stands in the throat."
            places.findings.advice(spot, message, "Nobody is booked past it; take care while shunting.")


def _shared(trains: Compositions, first: Stay, second: Stay, places: Places) -> None:
    railway = trains.railway
    both = [trains.vehicles(railway.workings[stay.working], stay.call) for stay in (first, second)]
    together_mm, road = trains.length_mm([*both[0], *both[1]]), railway.plant.roads[second.road]
    spot = places.spots["call.road", second.working, second.call]
    message = f"Workings {first.working} and {second.working} are both booked on {road.id} at one time"
    if together_mm > road.length_mm:
        message += f", and are {together_mm:g} mm together where there are {road.length_mm:g} mm."
        places.findings.conflict(spot, message, f"Book another road for {second.working}, or change a time.")
    else:
        places.findings.advice(
            spot, message + ".", "There is room for both, one behind the other; the first in is the last out."
        )
