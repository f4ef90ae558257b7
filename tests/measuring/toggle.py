"""The plainest tracker there can be: each read of a tag at a boundary takes its vehicle to the other side of it.

Rule: it knows where the folder says that things stand, and reads; no track detector, treadle, plan or operator. A read by a
boundary on neither side of which the vehicle is believed takes it past, from the side that is nearer to where it was
believed. It comes to stand at that end of the new stretch. It is always sure. The same numbered report heard twice is one.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Mapping, Sequence

from bridge.core.plan import Railway
from bridge.core.plant import Boundary, DetectorKind
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record

from .engine import Held, Row


class Toggle:
    """One evening of it."""

    says = False

    def __init__(self, railway: Railway) -> None:
        self.micros: list[float] = []
        self.reads: list[float] = []
        plant = railway.plant
        self._plant = plant
        self._lines: dict[str, list[str]] = {stretch: [] for stretch in plant.at_stretch}
        self._at: dict[str, str] = dict.fromkeys(railway.stock, "off")
        self._tags = {tag: vehicle.id for vehicle in railway.stock.values() for tag in vehicle.tags}
        self._readers = {
            (detector.board, detector.input): plant.boundaries[detector.at]
            for detector in plant.detectors.values()
            if detector.kind is DetectorKind.READER and detector.at in plant.boundaries
        }
        self._heard: set[tuple[str, int, int]] = set()
        for row in sorted(railway.standing, key=lambda row: row.order):
            if row.place in self._lines:
                self._at[row.vehicle] = row.place
                self._lines[row.place].append(row.vehicle)

    def take(self, record: Record) -> Sequence[Row]:
        """A numbered read counts; all else is nothing to it."""
        if isinstance(record, Received) and isinstance(record.line, Report):
            began_ns = time.thread_time_ns()
            self._report(record.line)
            self.micros.append((time.thread_time_ns() - began_ns) / 1000.0)
            if record.line.value.startswith("tag="):
                self.reads.append(self.micros[-1])
        return ()

    def until(self, t: float) -> Sequence[Row]:
        """Time is nothing to it."""
        return ()

    def close(self) -> Sequence[Row]:
        """It says nothing."""
        return ()

    def beliefs(self) -> Mapping[str, Held]:
        """Where it has them."""
        order = {vehicle: n for line in self._lines.values() for n, vehicle in enumerate(line, 1)}
        return {vehicle: Held(place, order.get(vehicle), 1.0) for vehicle, place in self._at.items()}

    def _report(self, line: Report) -> None:
        boundary = self._readers.get((line.board, line.input))
        vehicle = self._tags.get(line.value.removeprefix("tag="))
        number = (line.board, line.boot, line.seq)
        if boundary is None or vehicle is None or number in self._heard:
            return
        self._heard.add(number)
        self._toggle(vehicle, boundary)

    def _toggle(self, vehicle: str, boundary: Boundary) -> None:
        was = self._at[vehicle]
        goes_in = self._nearer(was, boundary) == boundary.throat
        place, end = (boundary.outer, boundary.end) if goes_in else (boundary.throat, boundary.throat_end)
        if was in self._lines:
            self._lines[was].remove(vehicle)
        self._lines[place].insert(0 if end == 0 else len(self._lines[place]), vehicle)
        self._at[vehicle] = place

    def _nearer(self, place: str, boundary: Boundary) -> str:
        """The side of a boundary that is nearer to a place, by boundaries to pass; the throat where none is."""
        waiting, seen = deque([place]), {place}
        while waiting:
            stretch = waiting.popleft()
            if stretch in (boundary.outer, boundary.throat):
                return stretch
            for other in self._plant.at_stretch.get(stretch, ()):
                for beyond in (other.outer, other.throat):
                    if beyond not in seen:
                        seen.add(beyond)
                        waiting.append(beyond)
        return boundary.throat
