"""At which end of a station a train comes and goes, and at which end of it its engine is.

Rule: an engine is at the head of its train as it comes, whatever was done at the call before.
"""

from __future__ import annotations

from bridge.core.plan import Railway, Working
from bridge.core.plant import Plant

OTHER = {"up": "down", "down": "up"}


def throat_end(plant: Plant, station: str, other: str) -> str | None:
    """At which end of a station the way to another leaves; None where nobody can say."""
    section = plant.section_between(station, other)
    if section is None or station == other:
        return None
    throats = section.throats
    return next((throat.partition(".")[2] for throat in throats if throat.partition(".")[0] == station), None)


def comes_at(plant: Plant, working: Working, call: int) -> str | None:
    """The end of its station at which a working comes to a call; None at its first."""
    return throat_end(plant, working.calls[call].station, working.calls[call - 1].station) if call else None


def goes_at(plant: Plant, working: Working, call: int) -> str | None:
    """The end of its station at which a working leaves a call; None at its last."""
    if call + 1 >= len(working.calls):
        return None
    return throat_end(plant, working.calls[call].station, working.calls[call + 1].station)


def engine_end(railway: Railway, working: Working, call: int) -> str | None:
    """At which end of its train the engine is as it comes to a call, at the first as it stands; None: nobody knows."""
    if call:
        came_at = comes_at(railway.plant, working, call)
        return None if came_at is None else OTHER[came_at]
    orders = {s.vehicle: s.order for s in railway.standing if s.place == working.calls[0].road}
    if working.engine in orders and working.rake and working.rake[0] in orders:
        return "up" if orders[working.engine] < orders[working.rake[0]] else "down"
    return None
