"""What boards said, held against the film: track detectors to the instant, treadles and readers by who went over a boundary.

Rule: of an evening without dirt or fault. What holds of a treadle or reader is asked both ways: each report has its cause,
and what went over is reported.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector, DetectorKind
from bridge.virtual.board import DEBOUNCE_S
from bridge.wire.lines import Report

from .film import Pass
from .grown import GrownEvening

NEAR_S = 3.0  # a treadle or reader stands up to 20 mm beside its boundary, and feels so far before and behind it
SURE_MM = 75.0  # so long a vehicle that goes over whole takes its tag out of any field: 20 mm off, 15 mm to either side
SURE_SCALE = 76.0  # on smaller layouts none is too fast to be read at a look every 50 ms


def misheard(work: GrownEvening) -> list[str]:
    """Everything that boards said wrongly, or failed to say."""
    said: dict[tuple[str, int], list[tuple[float, str]]] = {}
    for t_s, board, line in work.lines:
        if isinstance(line, Report):
            said.setdefault((board.name, line.input), []).append((t_s, line.value))
    passes: dict[str, list[Pass]] = {}
    for one in [*work.film.passes, *work.film.still_astride(work.evening.timeline.now_s)]:
        passes.setdefault(one.boundary, []).append(one)
    wrong: list[str] = []
    for detector in work.railway.plant.detectors.values():
        reports = said.get((detector.board, detector.input), [])
        if detector.kind is DetectorKind.TRACK:
            wrong += _track(work, detector, reports)
        elif detector.kind in (DetectorKind.TREADLE, DetectorKind.READER):
            wrong += _at_boundary(work, detector, reports, passes.get(detector.at or "", []))
    return wrong


def _track(work: GrownEvening, detector: Detector, reports: list[tuple[float, str]]) -> Iterator[str]:
    """On exactly while something that it sees is there; what is over before the board believes it is not said."""
    changes = work.film.changes.get(detector.covers or "", [])
    end_s = work.evening.timeline.now_s
    level, expected = changes[0][1], []
    for (t_s, there), (next_s, _) in zip(changes[1:], [*changes[2:], (end_s, False)], strict=False):
        if next_s - t_s > DEBOUNCE_S and there != level:
            level = there
            expected.append((t_s + DEBOUNCE_S, "on" if there != detector.invert else "off"))
    if len(expected) != len(reports):
        yield f"{detector.id}: {len(expected)} changes, {len(reports)} reports"
    for (t_s, value), (said_s, said) in zip(expected, reports, strict=False):
        if value != said or abs(said_s - t_s) > 0.002:
            yield f"{detector.id}: {value} at {t_s:.3f} s was told as {said} at {said_s:.3f} s"


def _at_boundary(
    work: GrownEvening, detector: Detector, reports: list[tuple[float, str]], passes: list[Pass]
) -> Iterator[str]:
    stock = work.railway.stock
    for t_s, value in reports:
        is_on = value.startswith("tag=") or value == ("off" if detector.invert else "on")
        causes = [p.vehicle for p in passes if p.from_s - NEAR_S <= t_s <= p.to_s + NEAR_S]
        boundary = work.railway.plant.boundaries[detector.at or ""]
        near = [v for stretch in (boundary.outer, boundary.throat) for v in work.film.were_on(stretch, t_s)]
        # where it stands beside the boundary, or a tag lies near the end of its vehicle, that need not be over it yet
        causes += [v for v in near if detector.side is not None or len(stock[v].tags) > 1]
        if is_on and not any(_feels(detector, stock[vehicle], value) for vehicle in causes):
            yield f"{detector.id}: {value} at {t_s:.3f} s, and nothing was there"
    for one in passes:
        vehicle = stock[one.vehicle]
        if one.whole and _is_sure(work, detector, vehicle):
            near = [value for t_s, value in reports if one.from_s - NEAR_S <= t_s <= one.to_s + NEAR_S]
            if not any(_feels(detector, vehicle, value) for value in near):
                yield f"{detector.id}: {vehicle.id} went over from {one.from_s:.3f} to {one.to_s:.3f} s, and was not told"


def _feels(detector: Detector, vehicle: Vehicle, value: str) -> bool:
    if detector.kind is DetectorKind.READER:
        return value.removeprefix("tag=") in vehicle.tags
    if detector.sees == "any":
        return True
    return vehicle.kind == "engine" if detector.sees == "engine" else vehicle.tail


def _is_sure(work: GrownEvening, detector: Detector, vehicle: Vehicle) -> bool:
    if not _feels(detector, vehicle, f"tag={vehicle.tags[0]}" if vehicle.tags else ""):
        return False
    if detector.kind is DetectorKind.READER:
        return len(vehicle.tags) == 1 and vehicle.length_mm >= SURE_MM and work.railway.plant.scale >= SURE_SCALE
    return vehicle.length_mm >= SURE_MM
