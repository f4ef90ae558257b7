"""How well readers and tags read, learned from what passes them.

Rule: a reader that has never said anything while vehicles passed it is soon taken for dead, whatever was thought of readers
before; one read shows that it lives. A tag is taken for weak only against readers that read the others. A tag that lies by
a reader and is said again and again is one passage, not many. What is weighed is learned by boundary; where two readers
stand at one, each passage is told of either (`Passage`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import log
from typing import NamedTuple

from bridge.core.learned import Learned
from bridge.core.plan import Vehicle
from bridge.core.plant import DetectorKind, Plant
from bridge.core.whereabouts import Passage

USUAL = 0.06  # of the passages at a reader so many go unread, as long as nothing is known of it
WEIGHT = 14.0  # so many passages is that worth
DEAD = 0.1  # of all readers so many are dead, or as good as
DIES = 1e-3  # and so many of those that have lived have died since, or are blind for a while
MOST_MISSED = 0.98
AGAIN_S = 2.0  # the same vehicle again so soon is the same passing: common practice, no source
LATE_S = 10.0  # what a track detector has told of first may still be read so long after
LIES_S = 10.0  # and again so soon after that: out and back once; what goes on so is a tag that lies there
FADES = 0.5  # what a session has learned counts so much in the next


@dataclass(slots=True)
class _Stay:
    """A vehicle at a boundary: when it was read there last, how many passages that has been, who has read the last one."""

    t: float
    passages: int = 1
    readers: set[str] = field(default_factory=set)


class _Unread(NamedTuple):
    """A vehicle that passed and has not been read so far, as likely as `sure`, at host second `t`."""

    vehicle: str
    boundary: str
    sure: float
    t: float


class Quality:
    """Passages at each reader: read, and unread as far as the likeliest hypothesis knows."""

    def __init__(self, plant: Plant) -> None:
        readers = {b: [d.id for d in rows if d.kind is DetectorKind.READER] for b, rows in plant.standing_at.items()}
        self._readers = {b: readers[b] for b in plant.boundaries if readers.get(b)}
        self._read: dict[str, float] = dict.fromkeys(self._readers, 0.0)
        self._unread: dict[str, float] = dict.fromkeys(self._readers, 0.0)
        self._dead: dict[str, float] = dict.fromkeys(self._readers, 0.0)
        self._missed: dict[str, float] = dict.fromkeys(self._readers, 0.0)
        self._log: dict[str, float] = {}  # asked for all the time
        for boundary in self._readers:
            self._learn(boundary)
        self._tags: dict[str, tuple[float, float]] = {}
        self._weak: dict[str, float] = {}
        self._stays: dict[str, dict[str, _Stay]] = {b: {} for b in self._readers}
        self._passages: list[Passage] = []
        self._unread_yet: list[_Unread] = []

    def has_reader(self, boundary: str) -> bool:
        """True where a reader stands."""
        return boundary in self._missed

    def unread(self, vehicle: Vehicle, boundary: str) -> float:
        """The logarithm of the chance that a vehicle passes a boundary and is not read there."""
        usual = self._log.get(boundary)
        if usual is None or not vehicle.tags:
            return 0.0
        weak = self._weak.get(vehicle.id)
        return usual if weak is None else log(1.0 - (1.0 - self._missed[boundary]) * (1.0 - weak))

    def all_unread(self, vehicles: Sequence[Vehicle], boundary: str) -> float:
        """The same of several that pass one after another: a dead reader misses them all."""
        missed = self._missed.get(boundary)
        if missed is None:
            return 0.0
        dead = max(self._dead[boundary], DIES)
        alive, lives = max(0.0, missed - dead) / (1.0 - dead), 1.0
        for vehicle in vehicles:
            if vehicle.tags:
                lives *= 1.0 - (1.0 - alive) * (1.0 - self._weak.get(vehicle.id, 0.0))
        return log(dead + (1.0 - dead) * lives)

    def missed(self, boundary: str) -> float | None:
        """The share of passages that a reader does not read; None where there is none."""
        return self._missed.get(boundary)

    # --- what passes

    def was_read(self, vehicle: str, boundary: str, reader: str, t: float) -> None:
        """A vehicle was read by a reader (a detector's id) at host second `t`."""
        if self._unread_yet:
            self._settle(t)
            self._unread_yet = [row for row in self._unread_yet if (row.vehicle, row.boundary) != (vehicle, boundary)]
        self._let_go(boundary, t)
        stays = self._stays[boundary]
        stay = stays.get(vehicle)
        if stay is None:
            stay = stays[vehicle] = _Stay(t, 0)
        is_again = stay.passages > 0 and t - stay.t < AGAIN_S
        stay.t = max(stay.t, t)
        if is_again and reader in stay.readers:
            return
        if is_again:
            stay.readers.add(reader)
            self._passages.append(Passage(reader, vehicle, 0.0))
            return
        if stay.passages >= 2:
            return
        self._missed_by_others(boundary, vehicle, stay)
        stay.passages, stay.readers = stay.passages + 1, {reader}
        self._passages.append(Passage(reader, vehicle, 0.0))
        self._read[boundary] += 1.0
        self._learn(boundary)
        if vehicle in self._tags:
            self._note(vehicle, 1.0, 0.0)

    def was_unread(self, vehicle: str, boundary: str, sure: float, t: float) -> None:
        """A vehicle passed at host second `t` and has not been read, as likely as that is."""
        self._settle(t)
        self._unread_yet.append(_Unread(vehicle, boundary, sure, t))

    def _settle(self, t: float) -> None:
        """What has not been read by now was missed."""
        while self._unread_yet and self._unread_yet[0].t <= t - LATE_S:
            vehicle, boundary, sure, _ = self._unread_yet.pop(0)
            missed = self._missed[boundary]
            self._passages += [Passage(reader, vehicle, sure) for reader in self._readers[boundary]]
            self._unread[boundary] += sure
            self._learn(boundary)
            if missed < 0.3:
                self._note(vehicle, 0.0, sure)

    def drain(self, t: float) -> list[Passage]:
        """What has passed readers by host second `t`, since last asked."""
        self._settle(t)
        found, self._passages = self._passages, []
        return found

    def _let_go(self, boundary: str, t: float) -> None:
        stays = self._stays[boundary]
        for vehicle, stay in [row for row in stays.items() if row[1].t < t - LIES_S]:
            self._missed_by_others(boundary, vehicle, stay)
            del stays[vehicle]

    def _missed_by_others(self, boundary: str, vehicle: str, stay: _Stay) -> None:
        """One reader at a boundary has read what passed, and another there has not."""
        readers = self._readers[boundary]
        if stay.readers and len(readers) > 1:
            self._passages += [Passage(reader, vehicle, 1.0) for reader in readers if reader not in stay.readers]

    # --- what that teaches

    def learned(self) -> Learned:
        """What is known of readers and tags, at half its weight: they are cleaned, and they wear."""
        readers = {b: (self._read[b], self._unread[b]) for b in self._readers if self._read[b] or self._unread[b]}
        return Learned(_faded(readers), _faded(self._tags))

    def know(self, learned: Learned) -> None:
        """Start with what an earlier session has learned, of readers that are still there."""
        for boundary, (read, unread) in learned.readers.items():
            if boundary in self._readers:
                self._read[boundary], self._unread[boundary] = read, unread
                self._learn(boundary)
        for vehicle, (read, unread) in learned.tags.items():
            self._note(vehicle, read, unread)

    def _learn(self, boundary: str) -> None:
        read, unread = self._read[boundary], self._unread[boundary]
        usual = (USUAL * WEIGHT + min(unread, read)) / (WEIGHT + read + min(unread, read))
        dead = 0.0 if read else DEAD / (DEAD + (1.0 - DEAD) * usual**unread)
        self._dead[boundary] = min(dead, MOST_MISSED)
        self._missed[boundary] = missed = min(MOST_MISSED, dead + (1.0 - dead) * usual)
        self._log[boundary] = log(missed)

    def _note(self, vehicle: str, read: float, unread: float) -> None:
        """A tag that went unread at good readers: every second such is a weak tag's."""
        so_far = self._tags.get(vehicle, (0.0, 0.0))
        now = (so_far[0] + read, so_far[1] + unread)
        self._tags[vehicle] = now
        if now[1] >= 2.0:
            self._weak[vehicle] = max(0.0, (now[1] - 1.0) / (now[0] + now[1] + 2.0))


def _faded(counts: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    return {subject: (round(read * FADES, 3), round(unread * FADES, 3)) for subject, (read, unread) in counts.items()}
