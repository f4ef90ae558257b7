"""Track power: a short circuit makes a current sensor say clear, so that clears around it are no clears.

Rule: while a power detector says off, and for 2 s after, the track detectors that it feeds are unknown, then as last
reported. Where no power detector feeds them, half or more of a board's occupied track detectors (at least three) clearing
within 200 ms are taken for the same.

"Clears up to 1 s before power off do not count" is kept by not counting any sooner: a track under a power detector says
clear 1 s after its off at the earliest, one that could be part of a trip 200 ms. Power that has said off and is then not
heard of stays off until it says on. After `trip_for` a track that says on again is occupied, for that is never the unsafe
side; the rest of its trip waits for somebody to look.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.conditioning.detectors import Detectors, Input
from bridge.core.conditioning.values import Evidence
from bridge.core.plant import DetectorKind, Plant

SETTLING_S = 2.0
BEFORE_OFF_S = 1.0
TOGETHER_S = 0.2
LEAST = 3


@dataclass(slots=True)
class Trip:
    """Tracks taken for a short circuit. `last_off_t`: when the last of them went off; `again`: one is on again;
    `waits`: nothing but a look ends it now."""

    board: str
    members: dict[str, Input]
    last_off_t: float
    again: bool = False
    waits: bool = False


@dataclass(slots=True)
class _Unfed:
    """A board's track detectors under no power detector, which of them went off just now (happened_t, input), and the
    number of their newest trip."""

    tracks: list[Input] = field(default_factory=list)
    recent: list[tuple[float, Input]] = field(default_factory=list)
    newest: int = 0


class Power:
    """What is unknown for want of track power."""

    def __init__(self, plant: Plant, trip_for_s: float, detectors: Detectors, deadlines: Deadlines) -> None:
        self._detectors = detectors
        self._deadlines = deadlines
        self._trip_for_s = trip_for_s
        self._fed: dict[str, list[Input]] = {}
        self._off: dict[str, bool] = {}
        """Power detectors that said off; True from when they say on again."""
        self.trips: dict[int, Trip] = {}
        self._trip_count = 0
        fed: dict[str, None] = {}
        for power in plant.detectors.values():
            if power.kind is DetectorKind.POWER:
                ids = dict.fromkeys(d.id for stretch in power.feeds for d in plant.covering.get(stretch, ()))
                fed |= ids
                self._fed[power.id] = [detectors.inputs[each] for each in ids]
        self._unfed: dict[str, _Unfed] = {}
        unfed: dict[str, _Unfed] = {}
        for row in detectors.inputs.values():
            if row.detector.id in fed:
                row.clear_after_s = max(row.clear_after_s, BEFORE_OFF_S)
            elif row.detector.kind is DetectorKind.TRACK:
                self._unfed[row.detector.id] = unfed.setdefault(row.detector.board, _Unfed())
                self._unfed[row.detector.id].tracks.append(row)
        for board in unfed.values():
            if len(board.tracks) >= LEAST:
                for row in board.tracks:
                    row.clear_after_s = max(row.clear_after_s, TOGETHER_S)

    def look(self, row: Input, seen: Evidence) -> None:
        """A detector has said something new: does it concern the power?"""
        if row.detector.kind is DetectorKind.POWER:
            self._power(row, seen)
        elif row.detector.kind is DetectorKind.TRACK:
            if row.is_on:
                self._track_on(row, seen)
            elif row.off is seen and seen.moves and row.now.state == "occupied":
                self._track_off(row, seen)

    def release(self, power: str, t: float) -> None:
        """The deadline of a power detector that said on again."""
        if self._off.get(power):
            del self._off[power]
            self._lift(self._fed[power], t)

    def pass_trip(self, number: int, t: float) -> None:
        """The deadline of a trip: 2 s after the first on again, or nothing on again for `trip_for`."""
        trip = self.trips.get(number)
        if trip is not None and trip.again:
            self._free(number, list(trip.members.values()), t)
        elif trip is not None:
            trip.waits = True

    def looked(self, row: Input, t: float) -> None:
        """Somebody has looked: the track is no longer taken for a short circuit."""
        if row.trip is not None:
            self._free(row.trip, [row], t)

    def mute(self, row: Input, seen: Evidence) -> None:
        """A power detector was muted or unmuted: while muted it is unknown, and darkens nothing."""
        if row.detector.kind is DetectorKind.POWER:
            if row.now.muted and row.detector.id in self._off:
                del self._off[row.detector.id]
                self._deadlines.drop("power", row.detector.id)
                self._lift(self._fed[row.detector.id], seen.t)
            elif not row.now.muted:
                self._power(row, seen)

    def begin_anew(self, t: float) -> None:
        """The service started: deadlines of real time count anew."""
        for power, on_again in self._off.items():
            if on_again:
                self._deadlines.set("power", power, t + SETTLING_S)
        for number, trip in self.trips.items():
            if trip.again or not trip.waits:
                self._deadlines.set("trip", trip.board, t + (SETTLING_S if trip.again else self._trip_for_s), number)

    def _power(self, row: Input, seen: Evidence) -> None:
        power = row.detector.id
        if row.now.muted or row.held is None:
            return
        if row.held == "on":
            if self._off.get(power) is False:
                self._off[power] = True
                self._deadlines.set("power", power, seen.t + SETTLING_S)
            return
        self._deadlines.drop("power", power)
        if power not in self._off:
            for fed in self._fed[power]:
                fed.dark += 1
                self._detectors.show(fed, Evidence(seen.n, seen.t, seen.happened_t))
        self._off[power] = False

    def _track_off(self, row: Input, seen: Evidence) -> None:
        """One more track went off: enough of them at once are a trip, and what follows at once belongs to it."""
        unfed = self._unfed.get(row.detector.id)
        if unfed is None:
            return
        trip = self.trips.get(unfed.newest)
        if trip is not None and abs(seen.happened_t - trip.last_off_t) <= TOGETHER_S:
            trip.last_off_t = max(trip.last_off_t, seen.happened_t)
            self._join(unfed.newest, [row], seen)
            return
        unfed.recent = [
            (t, each)
            for t, each in unfed.recent
            if abs(seen.happened_t - t) <= TOGETHER_S and each.off is not None and each.now.state == "occupied"
        ]
        unfed.recent.append((seen.happened_t, row))
        if len(unfed.recent) < LEAST:
            return
        occupied = sum(each.now.state == "occupied" for each in unfed.tracks)
        if 2 * len(unfed.recent) >= occupied:
            self._trip_count = unfed.newest = self._trip_count + 1
            self.trips[unfed.newest] = Trip(row.detector.board, {}, seen.happened_t)
            self._deadlines.set("trip", row.detector.board, seen.t + self._trip_for_s, unfed.newest)
            members, unfed.recent = [each for _, each in unfed.recent], []
            self._join(unfed.newest, members, seen)

    def _join(self, number: int, rows: Iterable[Input], seen: Evidence) -> None:
        for row in rows:
            row.trip = number
            self.trips[number].members[row.detector.id] = row
            self._detectors.show(row, Evidence(seen.n, seen.t, seen.happened_t))

    def _track_on(self, row: Input, seen: Evidence) -> None:
        trip = None if row.trip is None else self.trips[row.trip]
        if trip is None or row.trip is None:
            return
        if trip.waits:
            self._free(row.trip, [row], seen.t)
        elif not trip.again:
            trip.again = True
            self._deadlines.set("trip", trip.board, seen.t + SETTLING_S, row.trip)

    def _free(self, number: int, rows: list[Input], t: float) -> None:
        trip = self.trips[number]
        for row in rows:
            row.trip = None
            del trip.members[row.detector.id]
            self._show_last(row, t)
        if not trip.members:
            del self.trips[number]
            self._deadlines.drop("trip", trip.board, number)

    def _lift(self, rows: Iterable[Input], t: float) -> None:
        for row in rows:
            row.dark -= 1
            self._show_last(row, t)

    def _show_last(self, row: Input, t: float) -> None:
        """As last reported; that is no movement."""
        self._detectors.show(row, Evidence(None if row.mark is None else row.mark.n, t, t))
