"""What an engine leaves behind, and what stays with it although it stands apart.

Rule: vehicles that an engine set down are its train's while they stand on a running road or loop and are not booked to stay
there; in a siding, or where they are booked to, they have been left.
"""

from __future__ import annotations

from bridge.core.plant import Plant, RoadKind
from bridge.core.whereabouts import Prior

from . import hints
from .picture import Picture


def forsake(picture: Picture, engine: str, t: float, n: int | None, prior: Prior) -> None:
    """An engine is seen where some of its vehicles are not: those that it set down to stay have stayed."""
    here, home = picture.place(engine), prior.call_road(engine)
    for vehicle in picture.company(engine)[1:]:
        place = picture.place(vehicle)
        if place == here or place not in picture.plant.roads:
            continue
        if here in picture.plant.throats and _beside(picture, engine, place) and not _drawn_off(picture, engine, place, t):
            continue
        if (is_through(picture.plant, place) or place == home) and prior.keeps(vehicle, engine, place):
            continue
        picture.leave(vehicle, engine, t, n)


def is_through(plant: Plant, stretch: str) -> bool:
    """True for a running road or a loop: where a train may set vehicles down for a while."""
    road = plant.roads.get(stretch)
    return road is not None and road.kind in (RoadKind.RUNNING, RoadKind.LOOP)


def _beside(picture: Picture, engine: str, place: str) -> bool:
    """True where an engine in a throat may still be coupled to what stands on a road there: it has just come off it."""
    mouth = {b.id for b in picture.plant.at_stretch[picture.place(engine)] if b.outer == place}
    last = picture.reads.get(engine)
    return bool(mouth) and (last is None or last.boundary not in mouth or not last.outward)


def _drawn_off(picture: Picture, engine: str, place: str, t: float) -> bool:
    """True where more of a train goes from the throat to another road at this moment: what stands here was uncoupled."""
    roads = {b.outer for b in picture.plant.at_stretch[picture.place(engine)] if b.outer in picture.plant.roads} - {place}
    return any(picture.place(v) in roads and picture.changed.get(v) == t for v in picture.company(engine)[1:])


def stay(picture: Picture, vehicle: str, t: float, n: int | None, prior: Prior) -> None:
    """A vehicle that was to stay and was not seen to go: on its booked road, where that on which it stood is empty."""
    place, goal = picture.place(vehicle), prior.booked_to(vehicle)
    if goal is None or goal == place or (place in picture.plant.roads and prior.stretch_state(place) != "clear"):
        return
    way = picture.lines.path(place, goal)
    if way and way[-1].outer == goal:
        picture.move(vehicle, goal, 0 if way[-1].end == 0 else None, t, n, "absence", "stayed")


def follow(picture: Picture, engine: str, section: str, t: float, n: int | None, prior: Prior) -> None:
    """What goes with a departed engine went into the section behind it; what was to stay has stayed, unless it was
    seen to go
    or could not have been set down unseen."""
    here = picture.place(engine)
    for vehicle in picture.company(engine)[1:]:
        place = picture.place(vehicle)
        way = picture.lines.path(place, section)
        if place in (section, here) or not 0 < len(way) <= 2:
            continue
        told = picture.plant.read_at(way[-1].id)
        if prior.stays(vehicle, engine) and (told or not hints.settled_elsewhere(prior, vehicle)):
            stay(picture, vehicle, t, n, prior)
        else:
            picture.haul_alone(vehicle, way, t, n, "carried", "followed")
    for vehicle in picture.company(engine)[1:]:
        if picture.place(vehicle) != section and picture.place(vehicle) in picture.plant.roads:
            picture.leave(vehicle, engine, t, n)


def gather(picture: Picture, engine: str, section: str, t: float, n: int | None) -> None:
    """The section is clear behind a train: what was still believed there has come out behind the rest of it."""
    here = picture.place(engine)
    way = picture.lines.path(section, here) if here != section else []
    if not way:
        return
    mine = [v for v in picture.line(section) if picture.leads.get(v) == engine]
    for vehicle in mine if way[0].end == 0 else mine[::-1]:
        picture.cross(vehicle, way[0], False, t, n, "carried", "followed")
        picture.unproved[vehicle] = way[0].id
    picture.stir(way[0].throat, t)
