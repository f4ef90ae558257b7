"""Roads that the booked moves make too full, call by call.

Rule: a road is judged as things stand, and whenever a train has done its work there and no other that is at the station
has still something to lift from it. What `bridge.forecast.overfull` foretells working by working is coarser: it is what a
session begins with.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.core.plan import Move, Railway
from bridge.forecast.course import Step
from bridge.forecast.overfull import SLACK_MM, fouled_by
from bridge.forecast.rows import Handled
from bridge.forecast.yard import Yard


@dataclass(frozen=True, slots=True)
class Crowded:
    """A road that becomes overfull. `at` and `move` are the step and the row by which it is, None where it is so as things
    stand; `fouls` are the roads it then obstructs and the throats at its open ends."""

    road: str
    stands_mm: float
    length_mm: float
    vehicles: tuple[str, ...]
    fouls: tuple[str, ...]
    at: Step | None = None
    move: Move | None = None


def crowded(railway: Railway, steps: Iterable[Step], rows: Mapping[str, Iterable[Handled]]) -> tuple[Crowded, ...]:
    """Every time a road becomes overfull, in order."""
    return tuple(_Judge(railway, Yard(railway, rows)).run(steps))


class _Judge:
    """Looks at the roads that have changed once those at work on them are done."""

    def __init__(self, railway: Railway, yard: Yard) -> None:
        self._railway = railway
        self._yard = yard
        self._over: set[str] = set()
        self._grown: dict[str, tuple[Step, Handled]] = {}
        self._here: dict[str, list[Step]] = {}

    def run(self, steps: Iterable[Step]) -> Iterable[Crowded]:
        for road in self._railway.plant.roads:
            yield from self._judged(road, None)
        for step in steps:
            station = self._railway.workings[step.working].calls[step.call].station
            if not step.leaves:
                self._here.setdefault(station, []).append(step)
            grown = self._yard.take(step)
            self._grown.update({road: (step, row) for road, row in grown.items()})
            if step.leaves:
                self._here[station].remove(Step(step.working, step.call, False))
                yield from self._station(station)

    def _station(self, station: str) -> Iterable[Crowded]:
        here = self._here.get(station, ())
        busy = {row.move.from_road for step in here for row in self._yard.lifts(step.working, step.call)}
        for road in self._railway.plant.stations[station].roads:
            if road not in busy:
                yield from self._judged(road, self._grown.get(road))

    def _judged(self, road_id: str, grown: tuple[Step, Handled] | None) -> Iterable[Crowded]:
        stands_mm, room_mm = self._yard.stands_mm(road_id), self._railway.plant.roads[road_id].length_mm
        if stands_mm <= room_mm + SLACK_MM:
            self._over.discard(road_id)
        elif road_id not in self._over:
            self._over.add(road_id)
            at, move = (None, None) if grown is None else (grown[0], grown[1].move)
            vehicles, fouls = tuple(self._yard.on(road_id)), fouled_by(self._railway, road_id)
            yield Crowded(road_id, stands_mm, room_mm, vehicles, fouls, at, move)
