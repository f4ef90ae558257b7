"""The way of each working held against the plant: calls joined by a section, and roads that reach it.

Rule: consecutive calls are joined by one section; a station that is passed has a row too.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Section
from bridge.folder.finding import listed
from bridge.folder.places import Places
from bridge.forecast.section_runs import joins


def tell_runs(railway: Railway, places: Places) -> None:
    """Conflicts of every run from call to call with the plant."""
    joined = joins(railway.plant)
    for working in railway.workings.values():
        if ("working", working.id) in places.doubtful:
            continue
        for here, then in pairwise(working.calls):
            open_ = joined.get((here.station, then.station), [])
            section = _joined(railway, working, (here, then), open_, places)
            if section is not None and len(open_) < 2:
                _roads_reach(railway, working, (here, then), section, places)


def _station(throat: str) -> str:
    return throat.partition(".")[0]


def _joined(
    railway: Railway, working: Working, run: tuple[Call, Call], open_: list[Section], places: Places
) -> Section | None:
    here, then = run
    section = railway.plant.section_between(here.station, then.station)
    spot = places.spots["call.station", working.id, then.index]
    if section is None:
        between = _way(railway, here.station, then.station)
        if here.station == then.station:
            message, remedy = f"Working {working.id} calls twice running at {here.station}.", "Make one row of the two."
        elif between:
            message = f"No section joins {here.station} and {then.station}."
            remedy = f"Working {working.id} passes {', '.join(between)}: a station it passes has a row too."
        else:
            message = f"No section joins {here.station} and {then.station}, nor does any way lead there."
            remedy = "Correct the station, or add the section to railway.toml."
        places.findings.conflict(spot, message, remedy)
        return None
    if not open_:
        way = "down" if _station(section.from_throat) == here.station else "up"
        places.findings.conflict(
            spot,
            f"Section {section.id} is closed in the {way} direction, in which working {working.id} runs to {then.station}.",
            f'Add "{way}" to the `directions` of the section, or run another way.',
        )
    if len(open_) > 1:
        places.findings.advice(
            spot,
            f"{listed(s.id for s in open_)} all lead from {here.station} to {then.station}: nobody can say which is meant.",
            "Limit the `directions` of each, as on a double line; then the way is clear.",
        )
    return section


def _way(railway: Railway, start: str, end: str) -> list[str]:
    """The stations on the shortest way between two, both left out."""
    joined: dict[str, list[str]] = {}
    for section in railway.plant.sections.values():
        one, other = section.from_throat.partition(".")[0], section.to_throat.partition(".")[0]
        joined.setdefault(one, []).append(other)
        joined.setdefault(other, []).append(one)
    came: dict[str, str | None] = {start: None}
    queue = deque([start])
    while queue:
        station = queue.popleft()
        for other in joined.get(station, []):
            if other not in came:
                came[other] = station
                queue.append(other)
    way: list[str] = []
    step = came.get(end)
    while step is not None and step != start:
        way.insert(0, step)
        step = came[step]
    return way


def _roads_reach(railway: Railway, working: Working, run: tuple[Call, Call], section: Section, places: Places) -> None:
    """The booked road at both ends of a run must be open at the end where the section leaves, and reach it."""
    throats = {throat.partition(".")[0]: throat for throat in (section.to_throat, section.from_throat)}
    if len(throats) == 1:
        return
    for call, verb in zip(run, ("leave by", "come in from"), strict=True):
        road = railway.plant.roads[call.road]
        end = throats[call.station].partition(".")[2]
        spot = places.spots["call.road", working.id, call.index]
        if end not in road.open:
            message = (
                f"Road {road.id} is not open at its {end} end: working {working.id} cannot {verb} section {section.id}."
            )
            places.findings.conflict(spot, message, "Book a road that is, or correct `open` in railway.toml.")
        elif road.reaches and section.id not in road.reaches:
            message = f"Road {road.id} does not reach section {section.id}: working {working.id} cannot {verb} it there."
            places.findings.conflict(spot, message, "Book a road that does, or correct `reaches` in railway.toml.")
