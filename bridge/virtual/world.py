"""Where every vehicle is, to the millimetre, and what happens to it while rakes run, couple and part.

Rule: nothing overlaps and nothing passes through anything else: a run that would is refused before it begins. The world
knows no plan and no rule of working; it only knows track and vehicles.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from bridge.core.plan import Railway, Vehicle
from bridge.virtual.motion import Profile
from bridge.virtual.passing import Crossing, Wayside
from bridge.virtual.physics import CLEAN, Physics
from bridge.virtual.rake import Rake
from bridge.virtual.standing import standing
from bridge.virtual.track import Leg, Track

TOUCH_MM = 0.01
NEAR_MM = 40.0  # what hangs out of a road by less lets others by, narrowly: tracks meet only so far into a throat
TOUCHING_MM = 1.0  # buffers no further apart than this are taken to meet
GAP_MM = 15.0  # between rakes that do not touch, and before a buffer stop


class BlockedError(Exception):
    """A run that cannot be: what stands in the way."""

    def __init__(self, reason: str, passing: bool = False, by: str = "") -> None:
        super().__init__(reason)
        self.passing = passing  # what is in the way is itself running, and may be gone soon
        self.by = by  # the vehicle in the way, where it is one


@dataclass(frozen=True, slots=True)
class Run:
    """One run of one rake, from stand to stand, beginning at `start_s`."""

    key: int
    rake: Rake
    profile: Profile
    start_s: float

    @property
    def end_s(self) -> float:
        """When it stands again."""
        return self.start_s + self.profile.duration_s

    def still_to_sweep(self, now_s: float) -> tuple[float, float]:
        """The part of its way that it takes up from now until it stands."""
        done_mm = self.profile.covered_mm(now_s - self.start_s)
        return self.rake.low_mm + done_mm, self.rake.high_mm + self.profile.distance_mm


class World:
    """Rakes by key; a key stays with the rake that an engine is in."""

    def __init__(self, railway: Railway, physics: Physics = CLEAN) -> None:
        self.railway = railway
        self.track = Track(railway.plant)
        self.wayside = Wayside(self.track, physics)
        self.unpowered: set[str] = set()  # stretches without track power
        self.rakes: dict[int, Rake] = {}
        self.runs: dict[int, Run] = {}
        self.on: dict[str, dict[str, Vehicle]] = {stretch: {} for stretch in railway.plant.at_stretch}
        self._next = 0
        self._last_key: dict[str, int] = {}
        for rake in standing(railway, self.track, GAP_MM):
            self._add(rake)

    def _add(self, rake: Rake) -> int:
        self._next += 1
        self.rakes[self._next] = rake
        for vehicle, low_mm, high_mm in rake.spans:
            for stretch, _, _ in rake.swept(low_mm, high_mm):
                self.on[stretch][vehicle.id] = vehicle
        return self._next

    # -- finding -------------------------------------------------------------------------------------------------------

    def key_of(self, vehicle: str) -> int:
        """The rake a vehicle is in."""
        last = self.rakes.get(self._last_key.get(vehicle, 0))
        if last is not None and vehicle in last.ids:
            return self._last_key[vehicle]
        for key, rake in self.rakes.items():
            if vehicle in rake.ids:
                self._last_key[vehicle] = key
                return key
        raise LookupError(f"{vehicle} stands nowhere")

    def keys_near(self, stretches: Iterable[str]) -> list[int]:
        """The rakes that may take up something of these stretches: all that have a vehicle there, and all that run."""
        there = {self.key_of(vehicle) for stretch in stretches for vehicle in self.on[stretch]}
        return sorted(there.union(self.runs))

    def rake_of(self, vehicle: str) -> Rake:
        """The rake a vehicle is in, as it stood before any run it is on."""
        return self.rakes[self.key_of(vehicle)]

    def is_running(self, vehicle: str) -> bool:
        """Whether the rake a vehicle is in is on a run."""
        return self.key_of(vehicle) in self.runs

    def places_of(self, vehicle: str) -> tuple[str, ...]:
        """The stretches a vehicle is on, the one with its greater part first."""
        rake = self.rake_of(vehicle)
        low_mm, high_mm = next((low, high) for v, low, high in rake.spans if v.id == vehicle)
        pieces = sorted(rake.swept(low_mm, high_mm), key=lambda piece: (piece[1] - piece[2], piece[0]))
        return tuple(piece[0] for piece in pieces)

    def standing_on(self, stretch: str) -> list[str]:
        """The vehicles with their greater part on a stretch, in order from its end 0; for when nothing runs there."""
        line = self._pieces_on(stretch)
        return [v for _, v in sorted((low + high, v) for low, high, v in line if self.places_of(v)[0] == stretch)]

    def line_on(self, stretch: str) -> list[str]:
        """The vehicles with any part on a stretch, in order from its end 0; for when nothing runs there."""
        return [vehicle for _, vehicle in sorted((low, vehicle) for low, _, vehicle in self._pieces_on(stretch))]

    def _pieces_on(self, stretch: str) -> Iterator[tuple[float, float, str]]:
        for rake in map(self.rakes.__getitem__, self.keys_near([stretch])):
            for vehicle, low_mm, high_mm in rake.spans:
                for where, low, high in rake.swept(low_mm, high_mm):
                    if where == stretch:
                        yield low, high, vehicle.id

    def others_on(self, stretch: str, key: int) -> list[tuple[float, float, int]]:
        """What other rakes take up of a stretch: from and to from its end 0, and the rake."""
        found = []
        for other in self.keys_near([stretch]):
            if other != key:
                found += [(low, high, other) for where, low, high in self.rakes[other].pieces() if where == stretch]
        return sorted(found)

    # -- running, coupling, parting ------------------------------------------------------------------------------------

    def start(self, key: int, rake: Rake, profile: Profile, now_s: float) -> tuple[Run, list[Crossing]]:
        """Begin a run towards greater x along `rake`'s legs; `rake` is the standing one, perhaps the other way about.

        Raises `BlockedError` where another rake stands or runs on what it would sweep.
        """
        run = Run(key, rake, profile, now_s)
        for stretch, _, _ in rake.swept(*run.still_to_sweep(now_s)):
            if stretch in self.unpowered:
                raise BlockedError(f"{stretch} has no track power", passing=True)
        self._refuse_overlap(run, now_s)
        self.rakes[key] = rake
        self.runs[key] = run
        return run, self.wayside.crossings(rake, profile.distance_mm)

    def _refuse_overlap(self, run: Run, now_s: float) -> None:
        mine = self._taken(run.rake, *run.still_to_sweep(now_s))
        for other in self.keys_near(dict.fromkeys(stretch for stretch, _, _ in run.rake.swept(*run.still_to_sweep(now_s)))):
            if other == run.key:
                continue
            rake, running = self.rakes[other], self.runs.get(other)
            span = running.still_to_sweep(now_s) if running else (rake.low_mm, rake.high_mm)
            theirs = self._taken(rake, *span)
            for stretch, low, high in mine:
                for where, from_mm, to_mm in theirs:
                    if where == stretch and low < to_mm - TOUCH_MM and from_mm < high - TOUCH_MM:
                        what = "runs" if running else "stands"
                        raise BlockedError(f"{rake.ids[0]} {what} on {stretch}", running is not None, rake.ids[0])

    def _taken(self, rake: Rake, low_mm: float, high_mm: float) -> list[tuple[str, float, float]]:
        """What nobody else may be on: of a throat, the first `NEAR_MM` from a road belong to that road."""
        found = []
        for stretch, low, high in rake.swept(low_mm, high_mm):
            throat = self.railway.plant.throats.get(stretch)
            if throat is None:
                found.append((stretch, low, high))
                continue
            length_mm = self.track.length_mm(stretch)
            near, far = (0.0, NEAR_MM) if throat.end == "down" else (length_mm - NEAR_MM, length_mm)
            beside = f"{stretch} beside {self._road_beside(rake, stretch)}"
            cuts = (
                (beside, max(low, near), min(high, far)),
                (stretch, low, min(high, near)),
                (stretch, max(low, far), high),
            )
            found += [cut for cut in cuts if cut[1] < cut[2]]
        return found

    def _road_beside(self, rake: Rake, throat: str) -> str:
        for one, other in pairwise(rake.legs):
            if throat in (one.stretch, other.stretch):
                road = other.stretch if one.stretch == throat else one.stretch
                if road in self.railway.plant.roads:
                    return road
        return ""

    def stop(self, run: Run) -> None:
        """The run is over: its rake stands at its end."""
        del self.runs[run.key]
        self.rakes[run.key] = run.rake.moved(run.profile.distance_mm)

    def touch(self, key: int, other: int) -> bool:
        """Whether two rakes that stand share a stretch and touch."""
        one = self.rakes[key]
        if other in self.runs or not {leg.stretch for leg in one.legs} & {leg.stretch for leg in self.rakes[other].legs}:
            return False
        joined = one.joined_to(self.rakes[other])
        return max(joined.low_mm - one.high_mm, one.low_mm - joined.high_mm) < TOUCHING_MM

    def couple(self, key: int, other: int) -> None:
        """Two rakes that touch become one, under the first one's key."""
        one, two = self.rakes[key], self.rakes[other]
        joined = one.joined_to(two)
        if joined.low_mm < one.low_mm:
            one = one.about()
        del self.rakes[other]
        self.rakes[key] = one.coupled(two)

    def uncouple(self, key: int, leave: set[str]) -> None:
        """Those of `leave` stay; they must be one end of the rake, or both ends."""
        rake = self.rakes[key]
        keep = [n for n, vehicle in enumerate(rake.vehicles) if vehicle.id not in leave]
        first, last = keep[0], keep[-1] + 1
        if keep != list(range(first, last)):
            raise BlockedError("what is to be left stands between what goes on")
        for start, end in ((0, first), (last, len(rake.vehicles))):
            if start < end:
                self._next += 1
                self.rakes[self._next] = rake.part(start, end)
        self.rakes[key] = rake.part(first, last)

    # -- by hand -------------------------------------------------------------------------------------------------------

    def lift(self, vehicle: str) -> Vehicle:
        """Take a vehicle off the track; what was coupled to it on either side stays, in two rakes."""
        rake = self.rakes.pop(self.key_of(vehicle))
        n = rake.ids.index(vehicle)
        for first, last in ((0, n), (n + 1, len(rake.vehicles))):
            if first < last:
                self._next += 1
                self.rakes[self._next] = rake.part(first, last)
        for vehicles in self.on.values():
            vehicles.pop(vehicle, None)
        return rake.vehicles[n]

    def put(self, vehicle: Vehicle, stretch: str, low_mm: float) -> None:
        """Set a vehicle down on a stretch, so far from its end 0."""
        self._add(Rake((vehicle,), (Leg(stretch, True, 0.0, self.track.length_mm(stretch)),), low_mm))

    def shove(self, key: int, stretch: str, by_mm: float) -> None:
        """Push a standing rake along the stretch it is on, towards its end 1 (away from it where below 0)."""
        rake = self.rakes[key]
        ahead = next(leg.ahead for leg in rake.legs if leg.stretch == stretch)
        self.rakes[key] = rake.moved(by_mm if ahead else -by_mm)

    def swap_tags(self, vehicle: str, tags: tuple[str, ...]) -> None:
        """A vehicle carries other tags than the stock list says."""
        key = self.key_of(vehicle)
        rake = self.rakes[key]
        self.rakes[key] = replace(
            rake, vehicles=tuple(replace(v, tags=tags) if v.id == vehicle else v for v in rake.vehicles)
        )
