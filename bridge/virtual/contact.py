"""Where wheel and rail lose contact: drop-outs of track detectors over dirt.

Rule: how often is a matter of what is on the stretch at that instant: its dirt, whose wheels are dirty, how many axles share
the work, whether it runs. Instants are drawn at the highest rate that a stretch can have and kept by the rate it has.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from math import exp, log
from random import Random

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector, DetectorKind, Plant
from bridge.virtual.physics import Physics, axles_mm
from bridge.virtual.timeline import Timeline


class Contact:
    """The dirt under a plant's track detectors. `on` is the world's: which vehicles are on which stretch; `runs(vehicle)`
    tells whether one is running; `drop(detector, seconds)` makes it drop out."""

    def __init__(
        self, plant: Plant, physics: Physics, on: Mapping[str, Mapping[str, Vehicle]], timeline: Timeline, chance: Random
    ) -> None:
        self._plant, self._dirt, self._on = plant, physics.dirt, on
        self._timeline, self._chance = timeline, chance
        self.runs: Callable[[str], bool] = lambda vehicle: True
        self.drop: Callable[[Detector, float], None] = lambda detector, seconds: None

    def begin(self) -> None:
        """From here on detectors drop out."""
        for detector in self._plant.detectors.values():
            most_per_min = self._most_per_min(detector)
            if most_per_min > 0.0:
                self._wait(detector, most_per_min)

    def _most_per_min(self, detector: Detector) -> float:
        if detector.kind is not DetectorKind.TRACK:
            return 0.0
        worst = max(self._dirt.wheels.values(), default=0.0)
        rail = self._dirt.rails.get(detector.covers or "", 0.0)
        return rail * self._dirt.rail_drops_per_min + worst * self._dirt.wheel_drops_per_min

    def _wait(self, detector: Detector, most_per_min: float) -> None:
        self._timeline.after(self._chance.expovariate(most_per_min / 60.0), lambda: self._perhaps(detector, most_per_min))

    def _perhaps(self, detector: Detector, most_per_min: float) -> None:
        vehicles = self._on[detector.covers or ""].values()
        if self._chance.random() * most_per_min < self.drops_per_min(detector, vehicles):
            shortest_s, longest_s = self._dirt.drop_s
            self.drop(detector, exp(self._chance.uniform(log(shortest_s), log(longest_s))))
        self._wait(detector, most_per_min)

    def drops_per_min(self, detector: Detector, vehicles: Collection[Vehicle]) -> float:
        """How often a detector drops out under these vehicles."""
        axles = dict(self._axles(vehicles))
        together = sum(axles.values())
        if not together:
            return 0.0
        rail = self._dirt.rails.get(detector.covers or "", 0.0) * self._dirt.rail_drops_per_min * 2.0 / together
        dirty = sum(self._dirt.wheels.get(vehicle, 0.0) * count for vehicle, count in axles.items())
        per_min = rail + dirty * self._dirt.wheel_drops_per_min / together
        return per_min * (1.0 if any(map(self.runs, axles)) else self._dirt.standing_share)

    def _axles(self, vehicles: Collection[Vehicle]) -> Iterator[tuple[str, int]]:
        for vehicle in vehicles:
            if vehicle.detected:
                yield vehicle.id, len(axles_mm(vehicle, self._plant.scale))
