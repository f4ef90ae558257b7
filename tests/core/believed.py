"""What is believed of vehicles as a test tells it, in the place of the whereabouts, for rules that ask them alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.core.whereabouts import Belief


@dataclass
class Believed:
    """Told of vehicles: `at` the places where each may be, and how likely; `by` how that is known (seen, where nothing is
    told), and `evidence` by which journal numbers; `sure` how sure its likeliest place is, where less than it is likely;
    `leads` the engine with which it goes, and `joined` since when; `stood`, `came` since when it is there, and whence;
    `read` when each reader's boundary has read anything last."""

    at: Mapping[str, Mapping[str, float]]
    by: Mapping[str, str] = field(default_factory=dict)
    evidence: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    sure: Mapping[str, float] = field(default_factory=dict)
    leads: Mapping[str, str] = field(default_factory=dict)
    joined: Mapping[str, float] = field(default_factory=dict)
    stood: Mapping[str, float] = field(default_factory=dict)
    came: Mapping[str, str] = field(default_factory=dict)
    read: Mapping[str, float] = field(default_factory=dict)

    def likely(self, vehicle: str) -> Mapping[str, float]:
        return self.at.get(vehicle, {})

    def place(self, vehicle: str) -> str:
        likely = self.likely(vehicle)
        return max(likely, key=lambda place: likely[place], default="off")

    def belief(self, vehicle: str) -> Belief:
        place = self.place(vehicle)
        sure = self.sure.get(vehicle, self.likely(vehicle).get(place, 0.0))
        return Belief(place, None, (), sure, self.by.get(vehicle, "seen"), self.evidence.get(vehicle, ()))

    def line(self, stretch: str) -> tuple[str, ...]:
        return tuple(vehicle for vehicle in self.at if self.place(vehicle) == stretch)

    def leader(self, vehicle: str) -> str | None:
        return self.leads.get(vehicle)

    def company(self, engine: str) -> tuple[str, ...]:
        return tuple(vehicle for vehicle in self.at if self.leader(vehicle) == engine)

    def since(self, vehicle: str) -> float:
        return self.stood.get(vehicle, 0.0)

    def joined_t(self, vehicle: str) -> float:
        return self.joined.get(vehicle, 0.0)

    def came_from(self, vehicle: str) -> str | None:
        return self.came.get(vehicle)

    def read_since(self, boundary: str, t: float) -> bool:
        return self.read.get(boundary, -1e9) >= t
