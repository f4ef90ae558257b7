"""Which roads hold more than their usable length, now or once the booked moves are done.

Rule: only the vehicles of moves.csv move, and trains (an engine with its rake, ready at its first call) count on no road.
Roads are judged as they stand and after all moves of each working, workings in the order of their first departure. The
length on a road is the sum of lengths over buffers, nothing between.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bridge.core.plan import Move, Railway, Working

SLACK_MM = 1e-6
"""Less than this is the noise of adding, not a vehicle that overhangs."""


@dataclass(frozen=True, slots=True)
class Overfull:
    """A road that becomes overfull. `working` is the one after whose moves it is, None where it is so as things stand.

    `fouls` are the roads it then obstructs and the throats at its open ends.
    """

    road: str
    stands_mm: float
    length_mm: float
    vehicles: tuple[str, ...]
    working: str | None
    fouls: tuple[str, ...]


def in_order(workings: Iterable[Working]) -> tuple[Working, ...]:
    """Workings by their first departure. One without any time keeps its place behind the one before it in the file."""
    keyed: list[tuple[float, Working]] = []
    before = -math.inf
    for working in workings:
        times = (t for call in working.calls for t in (call.depart_s, call.arrive_s) if t is not None)
        before = next(times, before)
        keyed.append((before, working))
    return tuple(working for _, working in sorted(keyed, key=lambda pair: pair[0]))


def standing_alone(railway: Railway) -> dict[str, tuple[str, ...]]:
    """The vehicles on each road at the start, up end first, without those of trains ready at their first call."""
    ready: set[tuple[str, str]] = set()
    for working in railway.workings.values():
        if working.calls:
            ready.update((vehicle, working.calls[0].road) for vehicle in (working.engine, *working.rake))
    found: dict[str, list[tuple[int, str]]] = {}
    for standing in railway.standing:
        if standing.place in railway.plant.roads and (standing.vehicle, standing.place) not in ready:
            found.setdefault(standing.place, []).append((standing.order, standing.vehicle))
    return {road: tuple(vehicle for _, vehicle in sorted(rows)) for road, rows in found.items()}


def from_the_start(railway: Railway) -> tuple[Overfull, ...]:
    """What the folder alone foretells."""
    return foretell(railway, standing_alone(railway), railway.moves)


def foretell(railway: Railway, placed: Mapping[str, Sequence[str]], moves: Iterable[Move]) -> tuple[Overfull, ...]:
    """Every time a road becomes overfull, in order.

    `placed`: the vehicles on each road by its id, those of trains left out; places that are no road are not looked at.
    `moves`: the booked moves still to do, in the order of the file.
    """
    roads = {road: list(vehicles) for road, vehicles in placed.items() if road in railway.plant.roads}
    over: set[str] = set()
    found = _judge(railway, railway.plant.roads, roads, over, None)
    todo = assigned(railway, moves)
    stands: dict[str, dict[str, None]] = {}
    for road, vehicles in roads.items():
        for vehicle in vehicles:
            stands.setdefault(vehicle, {})[road] = None
    rank = {road: n for n, road in enumerate(railway.plant.roads)}
    for working in in_order(railway.workings.values()):
        changed: set[str] = set()
        for move in todo.get(working.id, ()):
            left = stands.get(move.vehicle, {})
            for road in left:
                roads[road].remove(move.vehicle)
            roads.setdefault(move.to_road, []).append(move.vehicle)
            stands[move.vehicle] = {move.to_road: None}
            changed.update(left, (move.to_road,))
        if changed:
            found += _judge(railway, sorted(changed & rank.keys(), key=rank.__getitem__), roads, over, working.id)
    return tuple(found)


def assigned(railway: Railway, moves: Iterable[Move]) -> dict[str, list[Move]]:
    """The moves of each working. A move booked to none goes to the first working that passes both its stations in order, not
    sooner than the vehicle's move before it; where no working does, it is never done."""
    order = [working.id for working in in_order(railway.workings.values())]
    rank = {working: n for n, working in enumerate(order)}
    reached: dict[str, int] = {}
    found: dict[str, list[Move]] = {}
    for move in moves:
        if move.working is not None:
            working: str | None = move.working
        else:
            later = order[reached.get(move.vehicle, 0) :]
            working = next((w for w in later if railway.passes_both(railway.workings[w], move)), None)
        if working is None or working not in railway.workings:
            continue
        reached[move.vehicle] = max(reached.get(move.vehicle, 0), rank[working])
        found.setdefault(working, []).append(move)
    return found


def _judge(
    railway: Railway, changed: Iterable[str], roads: Mapping[str, list[str]], over: set[str], working: str | None
) -> list[Overfull]:
    """Those of the roads that have changed that are overfull now and were not before; `over` keeps those that are."""
    found: list[Overfull] = []
    for road_id in changed:
        road, vehicles = railway.plant.roads[road_id], roads.get(road_id, [])
        stands_mm = math.fsum(railway.stock[v].length_mm for v in vehicles if v in railway.stock)
        if stands_mm <= road.length_mm + SLACK_MM:
            over.discard(road_id)
        elif road_id not in over:
            over.add(road_id)
            found.append(Overfull(road_id, stands_mm, road.length_mm, tuple(vehicles), working, fouled_by(railway, road_id)))
    return found


def fouled_by(railway: Railway, road_id: str) -> tuple[str, ...]:
    """What an overfull road obstructs: the roads it fouls, and the throat at each end at which it is open."""
    road = railway.plant.roads[road_id]
    return (*road.fouls, *(f"{road.station}.{end}" for end in road.open))
