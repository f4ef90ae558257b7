"""How well readers and tags read, learned from what passes them.

Rule: a reader that has never said anything while vehicles passed it is soon taken for dead, whatever was thought of readers
before; one read shows that it lives. A tag is taken for weak only against readers that read the others.
"""

from __future__ import annotations

from math import log

from bridge.core.plan import Vehicle
from bridge.core.plant import Plant

USUAL = 0.06  # of the passages at a reader so many go unread, as long as nothing is known of it
WEIGHT = 14.0  # so many passages is that worth
DEAD = 0.1  # of all readers so many are dead, or as good as
MOST_MISSED = 0.98


class Quality:
    """Passages at each reader: read, and unread as far as the likeliest hypothesis knows."""

    def __init__(self, plant: Plant) -> None:
        self._read: dict[str, float] = {b: 0.0 for b in plant.boundaries if plant.read_at(b)}
        self._unread: dict[str, float] = dict.fromkeys(self._read, 0.0)
        self._missed: dict[str, float] = {b: self._chance(b) for b in self._read}
        self._log: dict[str, float] = {b: log(missed) for b, missed in self._missed.items()}  # asked for all the time
        self._tags: dict[str, tuple[float, float]] = {}
        self._weak: dict[str, float] = {}

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

    def missed(self, boundary: str) -> float | None:
        """The share of passages that a reader does not read; None where there is none."""
        return self._missed.get(boundary)

    def was_read(self, vehicle: str, boundary: str) -> None:
        """A vehicle was read."""
        self._read[boundary] += 1.0
        self._learn(boundary)
        if vehicle in self._tags:
            self._note(vehicle, 1.0, 0.0)

    def was_unread(self, vehicle: str, boundary: str, sure: float) -> None:
        """A vehicle passed unread, as likely as that is."""
        missed = self._missed[boundary]
        self._unread[boundary] += sure
        self._learn(boundary)
        if missed < 0.3:
            self._note(vehicle, 0.0, sure)

    def _learn(self, boundary: str) -> None:
        self._missed[boundary] = missed = self._chance(boundary)
        self._log[boundary] = log(missed)

    def _chance(self, boundary: str) -> float:
        read, unread = self._read[boundary], self._unread[boundary]
        usual = (USUAL * WEIGHT + min(unread, read)) / (WEIGHT + read + min(unread, read))
        dead = 0.0 if read else DEAD / (DEAD + (1.0 - DEAD) * usual**unread)
        return min(MOST_MISSED, dead + (1.0 - dead) * usual)

    def _note(self, vehicle: str, read: float, unread: float) -> None:
        """A tag that went unread at good readers: every second such is a weak tag's."""
        so_far = self._tags.get(vehicle, (0.0, 0.0))
        now = (so_far[0] + read, so_far[1] + unread)
        self._tags[vehicle] = now
        if now[1] >= 2.0:
            self._weak[vehicle] = max(0.0, (now[1] - 1.0) / (now[0] + now[1] + 2.0))
