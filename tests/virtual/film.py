"""The film of an evening, judged by plant and lengths alone: who is on which stretch in what order.

Rule: it hears only who came onto a stretch and off it, and knows nothing of rakes, runs or ways. On a stretch the order
changes only at its ends; what is wholly on it is no longer than it. In a throat what also is on one of its roads stands
beside the others: tracks meet only so far into it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.plan import Railway

TOLERANCE_MM = 1.0


@dataclass
class Film:
    """What is where, from event to event. `wrong` says what cannot be; `astride`: (boundary, vehicle) to since when."""

    railway: Railway
    order: dict[str, list[str]] = field(default_factory=dict)
    places: dict[str, list[str]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    last_s: float = 0.0
    passes: list[Pass] = field(default_factory=list)
    stays: dict[str, list[tuple[str, float, float]]] = field(default_factory=dict)
    """Stretch to each vehicle that was on it and is no more, from when to when."""
    changes: dict[str, list[tuple[float, bool]]] = field(default_factory=dict)
    """Stretch to when it began (True) or ceased to have a vehicle that track detectors see."""

    def __post_init__(self) -> None:
        plant = self.railway.plant
        self._astride: dict[tuple[str, str], tuple[float, str]] = {}
        self._seen: dict[str, bool] = {}
        self._since: dict[tuple[str, str], float] = {}
        self._ends: dict[
            tuple[str, str], tuple[str, int, int]
        ] = {}  # (one, other) -> boundary, end of one, end of the other
        for b in plant.boundaries.values():
            inner = 1 - b.throat_end if plant.throats[b.throat].headshunt == b.outer else b.throat_end
            self._ends[b.outer, b.throat] = (b.id, b.end, inner)
            self._ends[b.throat, b.outer] = (b.id, inner, b.end)
        for standing in sorted(self.railway.standing, key=lambda s: s.order):
            self.order.setdefault(standing.place, []).append(standing.vehicle)
            self.places[standing.vehicle] = [standing.place]
        for stretch in plant.at_stretch:
            self.order.setdefault(stretch, [])
            self._note(0.0, stretch)

    def moved(self, t_s: float, vehicle: str, way: str, stretch: str) -> None:
        """A vehicle came onto a stretch ("in"), or off it ("out")."""
        self.last_s = t_s
        (self._came if way == "in" else self._left)(t_s, vehicle, stretch)
        self._note(t_s, stretch)
        wholly = [v for v in self.order[stretch] if self.places[v] == [stretch]]
        length_mm = self.railway.plant.length_mm(stretch)
        taken_mm = sum(self.railway.stock[v].length_mm for v in wholly)
        if length_mm is not None and taken_mm > length_mm + TOLERANCE_MM:
            self.wrong.append(f"{t_s:.1f} s: {taken_mm:.0f} mm on {stretch}, which has {length_mm:.0f} mm")

    def _joint(self, t_s: float, vehicle: str, stretch: str) -> tuple[str, str, int] | None:
        """The neighbour by which a vehicle is coming or going, the boundary, and the end of the stretch there."""
        near = [(p, *self._ends[stretch, p]) for p in self.places[vehicle] if (stretch, p) in self._ends]
        if len(near) != 1:
            self.wrong.append(
                f"{t_s:.1f} s: {vehicle} on {self.places[vehicle]} comes to {stretch} or leaves it from nowhere"
            )
            return None
        neighbour, boundary, end, _ = near[0]
        return neighbour, boundary, end

    def _came(self, t_s: float, vehicle: str, stretch: str) -> None:
        joint = self._joint(t_s, vehicle, stretch)
        if joint is not None:
            neighbour, boundary, end = joint
            self.order[stretch].insert(len(self.order[stretch]) if end else 0, vehicle)
            self._astride[boundary, vehicle] = (t_s, neighbour)
        self.places[vehicle].append(stretch)
        self._since[stretch, vehicle] = t_s

    def _left(self, t_s: float, vehicle: str, stretch: str) -> None:
        self.places[vehicle].remove(stretch)
        joint = self._joint(t_s, vehicle, stretch)
        line = self.order[stretch]
        if joint is None or vehicle not in line:
            return
        neighbour, boundary, end = joint
        n = line.index(vehicle)
        for other in line[n + 1 :] if end else line[:n]:
            if not self._is_beside(other, stretch, neighbour):
                self.wrong.append(f"{t_s:.1f} s: {vehicle} leaves {stretch} to {neighbour} past {other}")
        line.remove(vehicle)
        self.stays.setdefault(stretch, []).append((vehicle, self._since.pop((stretch, vehicle), 0.0), t_s))
        since_s, came_from = self._astride.pop((boundary, vehicle), (t_s, stretch))
        self.passes.append(Pass(boundary, vehicle, since_s, t_s, came_from == stretch))
        if self._is_side(stretch, neighbour):
            self._settle(vehicle, neighbour, stretch)

    def _is_side(self, stretch: str, throat: str) -> bool:
        """Whether a stretch is one of the roads that lie side by side at a throat."""
        throats = self.railway.plant.throats
        return throat in throats and stretch in self.railway.plant.roads and throats[throat].headshunt != stretch

    def _is_beside(self, vehicle: str, throat: str, road: str) -> bool:
        return any(place != road and self._is_side(place, throat) for place in self.places[vehicle])

    def _settle(self, vehicle: str, throat: str, came_from: str) -> None:
        """Wholly out of its road, it is the nearest of all that are not beside it or on that road still."""
        _, end, _ = self._ends[throat, came_from]
        line = [v for v in self.order[throat] if v != vehicle]
        line = line[::-1] if end else line
        hindmost = max((n for n, v in enumerate(line, 1) if came_from in self.places[v]), default=0)
        beside = [n for n, v in enumerate(line, 1) if n > hindmost and self._is_beside(v, throat, came_from)]
        free = next((n for n in range(hindmost, len(line)) if n + 1 not in beside), len(line))
        line.insert(free, vehicle)
        self.order[throat] = line[::-1] if end else line

    def _note(self, t_s: float, stretch: str) -> None:
        seen = any(self.railway.stock[v].detected for v in self.order[stretch])
        if self._seen.get(stretch) != seen:
            self._seen[stretch] = seen
            self.changes.setdefault(stretch, []).append((t_s, seen))

    def were_on(self, stretch: str, t_s: float) -> list[str]:
        """The vehicles that were on a stretch at an instant."""
        gone = [v for v, from_s, to_s in self.stays.get(stretch, ()) if from_s <= t_s <= to_s]
        return gone + [v for v in self.order[stretch] if self._since.get((stretch, v), 0.0) <= t_s]

    def still_astride(self, t_s: float) -> list[Pass]:
        """Those that stand over a boundary in the end."""
        return [Pass(b, v, since_s, t_s, False) for (b, v), (since_s, _) in self._astride.items()]


@dataclass(frozen=True, slots=True)
class Pass:
    """A vehicle over a boundary, from its first to its last millimetre; `whole`: it went over, not back again."""

    boundary: str
    vehicle: str
    from_s: float
    to_s: float
    whole: bool
