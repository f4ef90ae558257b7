"""Where the engine stands at the wrong end of its train: for a siding it works, or for the way it leaves.

Rule: this is advice, never more: a crew has other ways than the timetable knows.
"""

from __future__ import annotations

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import RoadKind
from bridge.folder.compositions import Compositions
from bridge.folder.places import Places

THROUGH = (RoadKind.RUNNING, RoadKind.LOOP)
OTHER = {"up": "down", "down": "up"}


def tell_run_rounds(railway: Railway, places: Places) -> None:
    """Advice for every siding and every departure that needs a run round."""
    trains = Compositions(railway)
    for working in railway.workings.values():
        if not working.calls or ("working", working.id) in places.doubtful:
            continue
        ends = _engine_ends(railway, working)
        for call, end in zip(working.calls, ends, strict=True):
            if end is not None and len(trains.vehicles(working, call.index)) > 1:
                _sidings(trains, working, call, end, places)
                _departure(trains, working, call, end, places)


def _sidings(trains: Compositions, working: Working, call: Call, end: str, places: Places) -> None:
    worked: dict[str, tuple[str, int]] = {}
    for handled in trains.handled(working):
        if handled.lifted == call.index:
            worked.setdefault(handled.move.from_road, ("move.from", handled.move.index))
        if handled.set_out == call.index:
            worked.setdefault(handled.move.to_road, ("move.to", handled.move.index))
    for road, spot in worked.items():
        if trains.railway.plant.roads[road].open == (OTHER[end],):
            places.findings.advice(
                places.spots[spot],
                f"Road {road} opens at its {OTHER[end]} end only, and there the engine of {working.id} is at the {end} end.",
                _way(trains.railway, call),
            )


def _departure(trains: Compositions, working: Working, call: Call, end: str, places: Places) -> None:
    after = call.index + 1
    if after >= len(working.calls) or len(trains.vehicles(working, after)) < 2:
        return
    leaves = _throat_end(trains.railway, call.station, working.calls[after].station)
    if leaves == OTHER[end]:
        places.findings.advice(
            places.spots["call.road", working.id, call.index],
            f"Working {working.id} leaves {call.station} at its {leaves} end, and its engine is at the {end} end.",
            _way(trains.railway, call),
        )


def _engine_ends(railway: Railway, working: Working) -> list[str | None]:
    """At which end of its train the engine is as it comes to each call, at the first as it stands; None: nobody knows."""
    orders = {s.vehicle: s.order for s in railway.standing if s.place == working.calls[0].road}
    first: str | None = None
    if working.engine in orders and working.rake and working.rake[0] in orders:
        first = "up" if orders[working.engine] < orders[working.rake[0]] else "down"
    found: list[str | None] = [first]
    for here, then in zip(working.calls, working.calls[1:], strict=False):
        came_by = _throat_end(railway, then.station, here.station)
        found.append(None if came_by is None else OTHER[came_by])
    return found


def _throat_end(railway: Railway, station: str, other: str) -> str | None:
    """At which end of a station the way to another leaves."""
    section = railway.plant.section_between(station, other)
    if section is None or station == other:
        return None
    throats = (section.from_throat, section.to_throat)
    return next((throat.partition(".")[2] for throat in throats if throat.partition(".")[0] == station), None)


def _way(railway: Railway, call: Call) -> str:
    roads = railway.plant.roads
    here = [road for road in roads.values() if road.station == call.station and road.id != call.road]
    through = [road.id for road in here if road.kind in THROUGH and len(road.open) == 2]
    if len(roads[call.road].open) == 2 and through:
        return f"It needs a run round: {' or '.join(through)} must be clear then."
    return (
        "It needs a run round, and there is no second road open at both ends for it: propel, or let another working do it."
    )
