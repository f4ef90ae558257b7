"""What has been read of each vehicle so far, whatever hypotheses make of it.

Rule: it speaks against what would have been read again: who was read going on to a road stands there, behind whom was read
before, until a reader has missed them coming out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from bridge.core.whereabouts.weighing.yard import Yard

NEVER = ("", -1e9)


@dataclass(slots=True)
class Known:
    """`stations`: vehicle to the station at which it was last read, or looked at; `reads`: to the boundary at which it was
    last read, and when (host seconds)."""

    stations: dict[str, str] = field(default_factory=dict)
    reads: dict[str, tuple[str, float]] = field(default_factory=dict)

    def went_in_behind(self, vehicle: str, others: Sequence[str], boundary: str) -> bool:
        """True where one of these others was read at a boundary after the vehicle was last read anywhere."""
        at = self.reads.get(vehicle, NEVER)[1]
        return any(where == boundary and t > at for where, t in (self.reads.get(other, NEVER) for other in others))

    def came_out_unread(self, vehicle: str, road: str, yard: Yard) -> float:
        """The logarithm of the chance that it has come off a road on to which it was read going, and was not read then."""
        last, _ = self.reads.get(vehicle, NEVER)
        mouths = yard.mouths(road) if road in yard.plant.roads else ()
        return sum(yard.unread(vehicle, mouth.id) for mouth in mouths if mouth.id == last)
