"""Where the engine stands at the wrong end of its train: for a siding it works, or for the way it leaves.

Rule: this is advice, for a crew has other ways than the timetable knows. Only where a train must be run round to leave as it
is booked, there is a loop for that, and its rake or its engine finds no room, it is a conflict.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Call, Working
from bridge.core.plant import RoadKind
from bridge.folder.clock import span
from bridge.folder.compositions import Compositions
from bridge.folder.easier import easier
from bridge.folder.ends import OTHER, engine_end, goes_at
from bridge.folder.places import Places
from bridge.forecast.rows import Handled

THROUGH = (RoadKind.RUNNING, RoadKind.LOOP)


def tell_run_rounds(trains: Compositions, places: Places) -> None:
    """Whatever needs a run round."""
    for working in trains.railway.workings.values():
        if ("working", working.id) in places.doubtful:
            continue
        for call in working.calls:
            end = engine_end(trains.railway, working, call.index)
            if end is not None and len(trains.vehicles(working, call.index)) > 1:
                _sidings(trains, working, call, end, places)
                _departure(trains, working, call, end, places)


def _sidings(trains: Compositions, working: Working, call: Call, end: str, places: Places) -> None:
    worked: dict[tuple[str, str], Handled] = {}
    for row in trains.handled(working):
        if row.set_out == call.index:
            worked.setdefault((row.move.to_road, "move.to"), row)
        if row.lifted == call.index:
            worked.setdefault((row.move.from_road, "move.from"), row)
    for (road, column), row in worked.items():
        if trains.railway.plant.roads[road].open == (OTHER[end],):
            message = (
                f"Road {road} opens at its {OTHER[end]} end only, and there the engine of {working.id} is at the {end} end."
            )
            remedy = _way(trains, working, call, end) + easier(trains, working, row, lifts=column == "move.from")
            places.findings.advice(places.spots[column, row.move.index], message, remedy)


def _departure(trains: Compositions, working: Working, call: Call, end: str, places: Places) -> None:
    leaves = goes_at(trains.railway.plant, working, call.index)
    if leaves != OTHER[end] or len(trains.vehicles(working, call.index + 1)) < 2:
        return
    spot = places.spots["call.road", working.id, call.index]
    message = f"Working {working.id} leaves {call.station} at its {leaves} end, and its engine is at the {end} end"
    after = trains.vehicles(working, call.index + 1)
    why_not = _why_not(trains, working, call, end, [v for v in trains.vehicles(working, call.index) if v in after])
    if why_not is not None and _ways_round(trains, call):
        message += f". It cannot run round: {why_not}."
        places.findings.conflict(spot, message, "Book another road or a shorter rake, or give it another engine there.")
    else:
        places.findings.advice(spot, message + ".", _way(trains, working, call, end))


def _ways_round(trains: Compositions, call: Call) -> list[str]:
    """The roads by which an engine can pass its own train."""
    roads = trains.railway.plant.roads
    if len(roads[call.road].open) < 2:
        return []
    here = (roads[road] for road in trains.railway.plant.stations[call.station].roads)
    return [road.id for road in here if road.kind in THROUGH and len(road.open) == 2 and road.id != call.road]


def _why_not(trains: Compositions, working: Working, call: Call, end: str, train: Sequence[str]) -> str | None:
    """Why an engine has no room to run round its train: the rake must stand on its road, the engine beyond it."""
    plant = trains.railway.plant
    road, rake_mm = plant.roads[call.road], trains.length_mm([v for v in train if v != working.engine])
    if rake_mm > road.length_mm:
        return f"its rake is {rake_mm:g} mm long, and road {road.id} {road.length_mm:g} mm"
    neck, engine_mm = f"{call.station}.{end}", trains.length_mm([working.engine])
    room_mm = None if neck not in plant.throats else plant.throats[neck].length_mm
    if room_mm is None or any(neck in section.throats for section in plant.sections.values()):
        return None
    headshunt = plant.throats[neck].headshunt
    room_mm += 0.0 if headshunt is None else plant.roads[headshunt].length_mm
    return f"{working.engine} is {engine_mm:g} mm long, and {neck} has {room_mm:g} mm" if engine_mm > room_mm else None


def _way(trains: Compositions, working: Working, call: Call, end: str) -> str:
    """By which road, whether there is room, and who is booked there."""
    through = _ways_round(trains, call)
    if not through:
        only = "It needs a run round, and there is no second road open at both ends for it"
        return f"{only}: propel, or let another working do it."
    why_not = _why_not(trains, working, call, end, trains.vehicles(working, call.index))
    if why_not is not None:
        return f"It needs a run round, and there is no room for it: {why_not}."
    booked = {name: trains.booked_on(name, working, call) for name in through}
    free = [name for name in through if not booked[name]]
    if free:
        return f"It needs a run round: {' or '.join(free)} must be clear then."
    stays = sorted({(stay.working, span(stay.from_s, stay.to_s)) for found in booked.values() for stay in found})
    others = " and ".join(f"{name}{times}" for name, times in stays)
    return f"It needs a run round: {' or '.join(through)} must be clear then, and is booked for {others}."
