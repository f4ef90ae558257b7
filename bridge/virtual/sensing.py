"""Where on the track the detectors at boundaries stand, and which points of a vehicle they feel.

Rule: geometry alone. A tag lies under the middle of a vehicle; a vehicle with two carries one near each end. An engine's
magnet and a tail's are in the middle; a treadle that sees "any" feels every axle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Detector, DetectorKind, Plant
from bridge.virtual.physics import axles_mm

SIDE_MM = 20.0  # a detector with a side stands so far from the boundary


@dataclass(frozen=True, slots=True)
class Sensor:
    """A treadle or reader; `outward_mm`: from its boundary into the road or section (negative: into the throat)."""

    detector: Detector
    outward_mm: float


def sensors_of(plant: Plant) -> dict[str, tuple[Sensor, ...]]:
    """The treadles and readers of each boundary that has any."""
    found: dict[str, list[Sensor]] = {}
    for detector in plant.detectors.values():
        if detector.kind in (DetectorKind.TREADLE, DetectorKind.READER) and detector.at is not None:
            boundary = plant.boundaries[detector.at]
            found.setdefault(boundary.id, []).append(Sensor(detector, _outward_mm(boundary, detector.side)))
    return {boundary: tuple(rows) for boundary, rows in found.items()}


def _outward_mm(boundary: Boundary, side: str | None) -> float:
    if side is None:
        return 0.0
    towards = boundary.throat.rpartition(".")[2]
    away = "up" if towards == "down" else "down"
    outer_side = towards if "." not in boundary.outer else away  # a road's id has a dot, a section's has none
    return SIDE_MM if side == outer_side else -SIDE_MM


def felt_points(vehicle: Vehicle, detector: Detector, turned: bool, scale: float) -> Iterator[tuple[str, float]]:
    """The points of a vehicle that a detector feels: what (a tag, or "") and how far from its end at the lower x, in mm."""
    length_mm = vehicle.length_mm
    if detector.kind is DetectorKind.READER:
        places = (0.5,) if len(vehicle.tags) == 1 else (0.15, 0.85)
        for tag, place in zip(vehicle.tags, places, strict=False):
            yield tag, length_mm * (1.0 - place if turned else place)
    elif detector.sees == "engine":
        if vehicle.kind == "engine":
            yield "", length_mm * 0.5
    elif detector.sees == "tail":
        if vehicle.tail:
            yield "", length_mm * 0.5
    else:
        for at_mm in axles_mm(vehicle, scale):
            yield "", at_mm
