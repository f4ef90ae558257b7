"""A hand that lifts a wagon off one road and sets it down on another, shoving what stands there out of the way.

Rule: a hand does it only where nothing runs and there is room; what it did is told to nobody but the truth. Left to the
seed, it takes a wagon that no crew is booked to handle, from the end of its road that no crew comes to.
"""

from __future__ import annotations

from bridge.core.plan import Railway, Vehicle
from bridge.core.plant import RoadKind
from bridge.virtual.rake import KEPT_MM
from bridge.virtual.world import GAP_MM, BlockedError, World


def _closed_end(railway: Railway, road: str) -> int:
    return 1 if "down" not in railway.plant.roads[road].open else 0


def choices_by_hand(railway: Railway) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Each wagon with each siding that has room for it, and of these what disturbs no crew: an unbooked wagon at the buffer
    stop of a siding from which nothing is booked, to a siding of the same station."""
    possible: list[tuple[str, ...]] = []
    quiet: list[tuple[str, ...]] = []
    roads = railway.plant.roads
    for row in railway.standing:
        vehicle = railway.stock[row.vehicle]
        if vehicle.kind != "wagon" or row.place not in roads:
            continue
        for road in roads.values():
            ends = road.kind is RoadKind.SIDING and len(road.open) == 1
            if ends and road.id != row.place and _has_room(railway, road.id, vehicle):
                possible.append((vehicle.id, road.id))
                if roads[row.place].station == road.station and _is_out_of_the_way(railway, vehicle.id, row.place):
                    quiet.append((vehicle.id, road.id))
    return possible, quiet


def _has_room(railway: Railway, road: str, vehicle: Vehicle) -> bool:
    """Whether it would fit with all that stand there now and all that are booked to come."""
    there = {row.vehicle for row in railway.standing if row.place == road}
    there |= {move.vehicle for move in railway.moves if move.to_road == road}
    taken_mm = sum(railway.stock[v].length_mm for v in there - {vehicle.id}) + vehicle.length_mm
    return taken_mm + 3 * GAP_MM + KEPT_MM <= railway.plant.roads[road].length_mm


def _is_out_of_the_way(railway: Railway, vehicle: str, place: str) -> bool:
    here = sorted((row.order, row.vehicle) for row in railway.standing if row.place == place)
    innermost = here[0 if _closed_end(railway, place) == 0 else -1][1]
    rakes = {v for working in railway.workings.values() for v in working.rake}
    lifted = {move.vehicle for move in railway.moves} | rakes
    is_siding = railway.plant.roads[place].kind is RoadKind.SIDING
    return is_siding and innermost == vehicle and not lifted & {other for _, other in here}


def is_quiet(world: World, places: set[str], now_s: float) -> bool:
    """Whether nothing runs, or is about to run, over any of these stretches."""
    for run in world.runs.values():
        if any(stretch in places for stretch, _, _ in run.rake.swept(*run.still_to_sweep(now_s))):
            return False
    return True


def move(world: World, vehicle: str, road: str) -> None:
    """Take a wagon that stands uncoupled from any engine to another road; raises `BlockedError` where it cannot be."""
    rake = world.rake_of(vehicle)
    if any(v.kind == "engine" for v in rake.vehicles):
        raise BlockedError(f"{vehicle} is coupled to an engine")
    length_mm = next(v.length_mm for v in rake.vehicles if v.id == vehicle)
    low_mm = _made_room(world, road, length_mm)
    world.put(world.lift(vehicle), road, low_mm)


def _made_room(world: World, road: str, length_mm: float) -> float:
    """Where the new one's end towards end 0 comes to be, once what stands there is shoved away from the closed end."""
    whole_mm = world.track.length_mm(road)
    others = world.others_on(road, 0)
    closed = _closed_end(world.railway, road)
    need_mm = length_mm + 2 * GAP_MM
    free_mm = whole_mm if not others else others[0][0] if closed == 0 else whole_mm - others[-1][1]
    shove_mm = max(need_mm - free_mm, 0.0)
    mouth_mm = whole_mm - max((high for _, high, _ in others), default=0.0)
    if closed == 1:
        mouth_mm = min((low for low, _, _ in others), default=whole_mm)
    if shove_mm and mouth_mm - shove_mm < KEPT_MM:
        raise BlockedError(f"{road} has no room")
    for key in dict.fromkeys(other for _, _, other in others):
        world.shove(key, road, shove_mm if closed == 0 else -shove_mm)
    return GAP_MM if closed == 0 else whole_mm - GAP_MM - length_mm
