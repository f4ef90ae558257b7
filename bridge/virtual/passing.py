"""What a rake passes on its way: joints between stretches, treadles, readers.

Rule: geometry alone, worked out before the run begins.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector
from bridge.virtual.physics import Physics
from bridge.virtual.rake import Rake
from bridge.virtual.sensing import Sensor, felt_points, sensors_of
from bridge.virtual.track import Track

EDGE_MM = 0.001  # so near to the edge of what a detector feels nothing is felt: more than sums of lengths are ever off


@dataclass(frozen=True, slots=True)
class Crossing:
    """A point of a vehicle at a point of the track, so many millimetres after the start of a run.

    `what`: "in" and "out" (of `stretch`; `end` by which it comes in), "felt" and "left" (by `detector`; `tag` where it is
    a reader).
    """

    covered_mm: float
    what: str
    vehicle: Vehicle
    stretch: str = ""
    detector: Detector | None = None
    tag: str = ""
    end: int = 0


class Wayside:
    """The track with what stands beside it."""

    def __init__(self, track: Track, physics: Physics) -> None:
        self._track, self._physics = track, physics
        self._sensors: Mapping[str, tuple[Sensor, ...]] = sensors_of(track.plant)

    def crossings(self, rake: Rake, distance_mm: float) -> list[Crossing]:
        """All that a rake crosses on a run of so many millimetres towards greater x, in order."""
        found = [*self._joints(rake, distance_mm), *self._felt(rake, distance_mm)]
        return sorted(found, key=lambda c: (c.covered_mm, c.what, c.vehicle.id, c.stretch, c.tag))

    def sensors_on(self, rake: Rake) -> Iterator[Sensor]:
        """The treadles and readers along a rake's way."""
        return (sensor for _, sensor in self._sensors_along(rake))

    @staticmethod
    def _joints(rake: Rake, distance_mm: float) -> Iterator[Crossing]:
        for one, following in pairwise(rake.legs):
            joint_mm = one.end_mm
            for vehicle, low_mm, high_mm in rake.spans:
                if joint_mm - 1e-6 <= high_mm + distance_mm - 2e-6 and high_mm <= joint_mm + 1e-6:
                    yield Crossing(joint_mm - high_mm, "in", vehicle, following.stretch, end=int(not following.ahead))
                if low_mm < joint_mm - 1e-6 <= low_mm + distance_mm:
                    yield Crossing(joint_mm - low_mm, "out", vehicle, one.stretch)

    def _felt(self, rake: Rake, distance_mm: float) -> Iterator[Crossing]:
        scale = self._track.plant.scale
        for x_mm, sensor in self._sensors_along(rake):
            for vehicle, low_mm, _ in rake.spans:
                for tag, from_low_mm in felt_points(vehicle, sensor.detector, vehicle.id in rake.turned, scale):
                    reach_mm = self._physics.half_reach_mm(sensor.detector, tag)
                    ahead_mm = x_mm - low_mm - from_low_mm
                    # where a point stands just at the edge it is not felt, from whichever side it came and wherever it goes
                    comes_mm, goes_mm = ahead_mm - reach_mm, ahead_mm + reach_mm
                    if -EDGE_MM <= comes_mm < distance_mm - EDGE_MM:
                        yield Crossing(max(comes_mm, 0.0), "felt", vehicle, "", sensor.detector, tag)
                    if EDGE_MM < goes_mm <= distance_mm + EDGE_MM:
                        yield Crossing(min(goes_mm, distance_mm), "left", vehicle, "", sensor.detector, tag)

    def _sensors_along(self, rake: Rake) -> Iterator[tuple[float, Sensor]]:
        track = self._track
        for one, following in pairwise(rake.legs):
            boundary = track.boundary_of(one, following)
            outward = 1.0 if following.stretch == boundary.outer else -1.0
            for sensor in self._sensors.get(boundary.id, ()):
                yield one.end_mm + outward * sensor.outward_mm, sensor
        for leg, end_no, x_mm, inward in (
            (rake.legs[0], 0, rake.legs[0].x_mm, 1.0),
            (rake.legs[-1], 1, rake.legs[-1].end_mm, -1.0),
        ):
            boundary_end = track.boundary_at(leg.stretch, end_no if leg.ahead else 1 - end_no)
            for sensor in self._sensors.get(boundary_end.id, ()) if boundary_end else ():
                yield x_mm + inward * sensor.outward_mm, sensor
