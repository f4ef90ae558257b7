"""Runs as they happen: the road is set, the rake sets off, and every point of it is felt where it passes.

Rule: a run that something running blocks waits for it; one that something standing blocks is a fault of the script.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from bridge.virtual.lookout import Lookout
from bridge.virtual.motion import Profile
from bridge.virtual.orders import Couples, Crew, Resourceful, RunsTo
from bridge.virtual.passing import Crossing
from bridge.virtual.scene import Scene, tell
from bridge.virtual.trips import Trip, Trips
from bridge.virtual.ways import Planned, RunOrder, plan_run
from bridge.virtual.world import BlockedError, Run

GAIN_MM_S2 = 120.0  # how a rake gathers and loses speed
PATIENCE_S = 600.0  # so long a run waits for the way to become free


@dataclass(frozen=True, slots=True)
class _Asked:
    """A run somebody asked for, since when, and what comes after it."""

    crew: Crew
    order: RunOrder
    where: str
    since_s: float
    then: Callable[[], None]


class Running:
    """Lets rakes run."""

    def __init__(self, scene: Scene, lookout: Lookout) -> None:
        self._scene, self._lookout = scene, lookout
        self._trips = Trips(scene.world, scene.truth)

    def run(self, crew: Crew, order: RunOrder, where: str, then: Callable[[], None]) -> None:
        """Set the road, set off after a moment, and call `then` at the end. Raises `ScriptError` where it cannot be."""
        scene = self._scene
        try:
            way = plan_run(scene.world, scene.world.key_of(crew.engine or ""), order).way
        except BlockedError as blocked:
            tell(crew, where, blocked)
            scene.timeline.after(0.0, then)
            return
        pause_s = scene.chance.uniform(1.2, 2.4)
        for n, (throat, road) in enumerate(self._roads_to_set(way)):
            set_s = 0.3 + 0.25 * n
            scene.timeline.after(set_s, lambda throat=throat, road=road: scene.inputs.set_road(throat, road))  # type: ignore[misc]
        asked = _Asked(crew, order, where, scene.now_s, then)
        scene.timeline.after(pause_s, lambda: self._set_off(asked))

    def _roads_to_set(self, way: tuple[str, ...]) -> list[tuple[str, str]]:
        roads = self._scene.railway.plant.roads
        pairs = ((one, other) if other in roads else (other, one) for one, other in pairwise(way))
        return [(throat, road) for throat, road in pairs if road in roads]

    def _set_off(self, asked: _Asked) -> None:
        scene = self._scene
        key = scene.world.key_of(asked.crew.engine or "")
        engine = asked.crew.engine or ""
        try:
            planned = plan_run(scene.world, key, asked.order)
            profile = Profile(planned.distance_mm, self._speed_mm_s(asked.order, planned), GAIN_MM_S2)
            run, crossings = scene.world.start(key, planned.rake, profile, scene.now_s)
        except BlockedError as blocked:
            self._held_up(asked, blocked)
            return
        trip = self._trips.setting_off(scene.now_s, engine, scene.train_of(engine), planned, asked.order)
        self._forget_fields(run, crossings)
        for crossing in crossings:
            t_s = run.start_s + profile.at_s(crossing.covered_mm)
            scene.timeline.at(t_s, lambda crossing=crossing: self._cross(crossing, trip))  # type: ignore[misc]
        scene.timeline.at(run.end_s, lambda: self._stand(asked, run, trip))

    def _held_up(self, asked: _Asked, blocked: BlockedError) -> None:
        """A crew that follows its lines waits for what is running to pass; one that can find another way is told."""
        scene = self._scene
        if blocked.passing and not isinstance(asked.crew, Resourceful) and scene.now_s - asked.since_s <= PATIENCE_S:
            scene.timeline.after(0.5, lambda: self._set_off(asked))
            return
        tell(asked.crew, asked.where, blocked)
        asked.then()

    def _speed_mm_s(self, order: RunOrder, planned: Planned) -> float:
        if order.speed_mm_s is not None:
            return order.speed_mm_s
        leaves = isinstance(order, RunsTo) and any(s in self._scene.railway.plant.sections for s in planned.way)
        return self._scene.script.speed_mm_s if leaves else self._scene.script.shunting_mm_s

    def _forget_fields(self, run: Run, crossings: list[Crossing]) -> None:
        """A tag that leaves a reader's field by another road than it came by is out of it."""
        leaving = {(c.detector.id, c.tag) for c in crossings if c.what == "left" and c.detector is not None}
        reached = {sensor.detector.id for sensor in self._scene.world.wayside.sensors_on(run.rake)}
        tags = {tag for vehicle in run.rake.vehicles for tag in vehicle.tags}
        self._scene.inputs.forget_fields(tags, reached, leaving)

    def _cross(self, crossing: Crossing, trip: Trip | None) -> None:
        scene = self._scene
        if crossing.detector is not None:
            (scene.inputs.felt if crossing.what == "felt" else scene.inputs.left)(crossing.detector, crossing.tag)
        else:
            vehicles = scene.world.on[crossing.stretch]
            if crossing.what == "in":
                vehicles[crossing.vehicle.id] = crossing.vehicle
            else:
                vehicles.pop(crossing.vehicle.id, None)
            scene.truth.moved(scene.now_s, crossing.vehicle.id, crossing.what, crossing.stretch)
            scene.chronicle.crossed(scene.now_s, crossing)
            scene.inputs.stretch_changed(crossing.stretch)
            if trip is not None:
                self._trips.crossed(scene.now_s, trip, crossing)
        self._lookout.look()

    def _couple(self, asked: _Asked, order: Couples, run: Run) -> None:
        """It has run up to what it is to couple to; what has gone meanwhile is not coupled."""
        scene = self._scene
        other = scene.world.key_of(order.vehicle)
        if not scene.world.touch(run.key, other):
            tell(asked.crew, asked.where, BlockedError(f"{order.vehicle} has gone on", by=order.vehicle))
            return
        for vehicle in scene.world.rakes[other].ids:
            scene.truth.joined(scene.now_s, asked.crew.engine or "", vehicle, scene.world.places_of(vehicle)[0])
        scene.world.couple(run.key, other)
        scene.chronicle.coupled(scene.now_s)

    def _stand(self, asked: _Asked, run: Run, trip: Trip | None) -> None:
        scene = self._scene
        scene.world.stop(run)
        if isinstance(asked.order, Couples):
            self._couple(asked, asked.order, run)
        self._trips.stood(asked.crew.engine or "")
        if trip is not None and not trip.sections:
            scene.truth.stands(trip.engine, scene.world.rakes[run.key].ids)
        self._lookout.look()
        asked.then()
