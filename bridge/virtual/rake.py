"""Vehicles coupled together, on a way of their own.

Rule: a rake is a value; what moves, couples or parts makes a new one. Its vehicles touch, buffer to buffer, in the order of
growing x. Its way covers it at least from end to end, and may reach further.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from bridge.core.plan import Vehicle
from bridge.virtual.track import Leg

KEPT_MM = 60.0  # so far behind a rake its way is remembered: beyond it nothing at a boundary can touch it


@dataclass(frozen=True)
class Rake:
    """Vehicles in order of growing x from `low_mm`; `turned` names those whose end 0 lies the other way round."""

    vehicles: tuple[Vehicle, ...]
    legs: tuple[Leg, ...]
    low_mm: float
    turned: frozenset[str] = frozenset()

    @cached_property
    def length_mm(self) -> float:
        """Over buffers."""
        return sum(vehicle.length_mm for vehicle in self.vehicles)

    @property
    def high_mm(self) -> float:
        """The end at the greatest x."""
        return self.low_mm + self.length_mm

    @cached_property
    def spans(self) -> tuple[tuple[Vehicle, float, float], ...]:
        """Each vehicle with the x of its two ends, the lower first."""
        found = []
        x_mm = self.low_mm
        for vehicle in self.vehicles:
            found.append((vehicle, x_mm, x_mm + vehicle.length_mm))
            x_mm += vehicle.length_mm
        return tuple(found)

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """The vehicles' ids in order."""
        return tuple(vehicle.id for vehicle in self.vehicles)

    def about(self) -> Rake:
        """The same rake with x growing the other way; nothing moves."""
        legs = tuple(Leg(leg.stretch, not leg.ahead, -leg.end_mm, leg.length_mm) for leg in reversed(self.legs))
        turned = frozenset(v.id for v in self.vehicles if v.id not in self.turned)
        return Rake(self.vehicles[::-1], legs, -self.high_mm, turned)

    def shifted(self, by_mm: float) -> Rake:
        """The same rake with another origin of x; nothing moves."""
        legs = tuple(replace(leg, x_mm=leg.x_mm + by_mm) for leg in self.legs)
        return replace(self, legs=legs, low_mm=self.low_mm + by_mm)

    def moved(self, by_mm: float) -> Rake:
        """After a run of so many millimetres towards greater x; what lies far behind is forgotten."""
        return replace(self, low_mm=self.low_mm + by_mm).trimmed()

    def trimmed(self) -> Rake:
        """Without the legs that lie far from it, before and behind."""
        kept = tuple(leg for leg in self.legs if leg.end_mm > self.low_mm - KEPT_MM and leg.x_mm < self.high_mm + KEPT_MM)
        return replace(self, legs=kept)

    def part(self, first: int, last: int) -> Rake:
        """The vehicles from place `first` up to and without place `last`, where they are."""
        chosen = self.vehicles[first:last]
        low_mm = self.low_mm + sum(vehicle.length_mm for vehicle in self.vehicles[:first])
        ids = {vehicle.id for vehicle in chosen}
        return Rake(chosen, self.legs, low_mm, frozenset(self.turned & ids)).trimmed()

    def coupled(self, other: Rake) -> Rake:
        """One rake of this and `other`, which stands touching it beyond its high end, each on its own way."""
        joined = self.joined_to(other)
        legs = self.legs + tuple(leg for leg in joined.legs if leg.x_mm >= self.legs[-1].end_mm - 1e-6)
        return Rake(self.vehicles + joined.vehicles, legs, self.low_mm, self.turned | joined.turned)

    def joined_to(self, other: Rake) -> Rake:
        """`other` with x counted as this rake's: they share a leg, this one's nearest to its end that both have."""
        for leg in reversed(self.legs):
            for theirs in other.legs:
                if theirs.stretch == leg.stretch:
                    if theirs.ahead != leg.ahead:
                        return self.joined_to(other.about())
                    return other.shifted(leg.x_mm - theirs.x_mm)
        raise LookupError("the two rakes share no stretch")

    def pieces(self) -> list[tuple[str, float, float]]:
        """What it takes up of each stretch: from and to, in millimetres from the stretch's end 0."""
        return self.swept(self.low_mm, self.high_mm)

    def swept(self, low_mm: float, high_mm: float) -> list[tuple[str, float, float]]:
        """The stretches between two places of its way: from and to, in millimetres from each one's end 0."""
        found = []
        for leg in self.legs:
            low, high = max(low_mm, leg.x_mm), min(high_mm, leg.end_mm)
            if high - low > 1e-6:
                one, other = leg.offset_mm(low), leg.offset_mm(high)
                found.append((leg.stretch, min(one, other), max(one, other)))
        return found
