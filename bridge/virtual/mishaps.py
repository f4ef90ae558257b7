"""Faults that happen at some moment of an evening: an input that floats, a trip, a hand; those of boards are next door.

Rule: the moment is the seed's, a share of the booked evening; what needs a quiet moment waits for one (`moments.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random

from bridge.core.plant import DetectorKind
from bridge.virtual.board import DEBOUNCE_S
from bridge.virtual.board_mishaps import BEFALL, BoardMishaps
from bridge.virtual.boards import Boards
from bridge.virtual.faults import Fault
from bridge.virtual.hands import is_quiet, move
from bridge.virtual.moments import Moments
from bridge.virtual.noticing import Noticing, Row
from bridge.virtual.orders import Condition, Expectation, Moment
from bridge.virtual.scene import Scene
from bridge.virtual.truth import Watched
from bridge.virtual.world import BlockedError

MANY_S = 0.3  # in so long an input that floats at 50 Hz has changed more than 20 times


class Mishaps:
    """The faults of one evening."""

    def __init__(self, scene: Scene, cabinet: Boards, faults: Iterable[Fault], seed: int) -> None:
        self._scene, self._seed, self._moments = scene, seed, Moments(scene)
        self._noticing = Noticing(scene, faults, (*_LATER, *BEFALL))
        self._shows = self._noticing.shows
        self._boards = BoardMishaps(scene, cabinet, self._moments, self._noticing)

    def begin(self) -> None:
        """The session has begun: what happens later is put on the timeline."""
        for fault, row in self._noticing.rows:
            chance = Random(f"{fault.name} {fault.subject} {self._seed}")
            if fault.name in _LATER:
                _LATER[fault.name](self, fault, row, chance)
            elif fault.name in BEFALL:
                BEFALL[fault.name](self._boards, fault, row, chance)
            elif fault.name == "misplaced":
                self._noticing.shows_by_track(fault, row, self._scene.railway)
            elif fault.name == "unlisted-tag":
                self._carries_another(fault)

    def _float(self, fault: Fault, row: Row, chance: Random) -> None:
        detector, told = self._scene.railway.plant.detectors[fault.subjects[0]], list[Fault]()
        at_once = Moment(Condition("always"))
        noisy = Expectation("detector-noisy", (("detector", detector.id),), at_once, at_once)

        def burst() -> None:
            now_s, lasts_s = self._scene.now_s, chance.uniform(0.3, 1.5)
            half_s = 0.5 / chance.choice((50.0, 100.0))
            if half_s > DEBOUNCE_S and fault not in told:
                told.append(fault)
                self._scene.truth.watched.append(Watched(noisy, now_s, now_s + MANY_S))
            row["t"] = row["t"] or round(now_s, 3)
            self._shows(row, detector.id)
            t_s, level = now_s, chance.random() < 0.5
            while t_s < now_s + lasts_s:
                self._scene.timeline.at(t_s, lambda level=level: self._scene.inputs.float_to(detector, level))  # type: ignore[misc]
                t_s, level = t_s + half_s * chance.uniform(0.8, 1.2), not level
            self._scene.timeline.at(t_s, lambda: self._scene.inputs.float_to(detector, None))
            self._scene.timeline.after(lasts_s + chance.expovariate(1 / 60.0), burst)

        self._moments.at_some_moment(chance, 0.05, 0.3, burst)

    def _trip(self, fault: Fault, row: Row, chance: Random) -> None:
        plant, inputs = self._scene.railway.plant, self._scene.inputs
        power = plant.detectors.get(fault.subjects[0])
        own = [d for d in plant.detectors.values() if d.kind is DetectorKind.TRACK and d.board == fault.subjects[0]]
        fed = power.feeds if power is not None else tuple(d.covers or "" for d in own)
        off_s = chance.uniform(2.0, 6.0)

        def put(on: bool) -> None:
            if power is not None:
                inputs.switch(power, on)
            else:
                inputs.feed(fed, on)

        def trip() -> bool:
            lit = [d.id for s in fed for d in plant.covering.get(s, ()) if self._scene.world.on[s]]
            if lit:
                row["t"] = round(self._scene.now_s, 3)
                row["until_t"] = round(self._scene.now_s + off_s, 3)
                self._shows(row, *lit, *(() if power is None else (power.id,)))
                put(False)
                self._scene.timeline.after(off_s, lambda: put(True))
            return bool(lit)

        self._moments.at_some_moment(chance, 0.2, 0.6, lambda: self._moments.once_quiet(set(fed), trip))

    def _carries_another(self, fault: Fault) -> None:
        """What the bridge should say of a tag that no list knows."""
        tag = self._scene.world.railway.stock[fault.subjects[0]].tags[0]
        twice = Moment(Condition("read", tag, count=2))
        self._scene.truth.watched.append(Watched(Expectation("tag-unknown", (("tag", tag),), twice, twice)))

    def _move(self, fault: Fault, row: Row, chance: Random) -> None:
        vehicle, road = fault.subjects

        def by_hand() -> bool:
            place = self._scene.world.places_of(vehicle)[0]
            if self._is_worked({place, road}):
                return False
            try:
                move(self._scene.world, vehicle, road)
            except BlockedError:
                return False
            row["t"] = round(self._scene.now_s, 3)
            row["what"] = f"a hand took {vehicle} from {place} to {road}"
            self._taken(row, vehicle, place, road)
            return True

        self._moments.at_some_moment(chance, 0.2, 0.6, lambda: self._moments.once_quiet({road}, by_hand))

    def _is_worked(self, places: set[str]) -> bool:
        """Whether a train is at a station of these places, or something runs there."""
        scene, stations = self._scene, {place.partition(".")[0] for place in places}
        near = {stretch for stretch in scene.world.on if stretch.partition(".")[0] in stations}
        at_work = any(near.intersection(scene.world.places_of(engine)) for engine in scene.workings)
        return at_work or not is_quiet(scene.world, near, scene.now_s)

    def _taken(self, row: Row, vehicle: str, place: str, road: str) -> None:
        """What detectors make of a wagon that is gone from one place and stands at another."""
        scene = self._scene
        scene.inputs.forget_fields(set(scene.railway.stock[vehicle].tags), set(), set())
        for way, stretch in (("out", place), ("in", road)):
            scene.truth.moved(scene.now_s, vehicle, way, stretch)
            scene.chronicle.set_down(scene.now_s, stretch)
            scene.inputs.stretch_changed(stretch)
            others = [v for v in scene.world.on[stretch].values() if v.id != vehicle]
            detectors = scene.railway.plant.covering.get(stretch, ())
            if detectors and scene.railway.stock[vehicle].detected and not any(v.detected for v in others):
                self._shows(row, *(detector.id for detector in detectors))


_LATER: dict[str, Callable[[Mishaps, Fault, Row, Random], None]] = {
    "floating-input": Mishaps._float,
    "power-trip": Mishaps._trip,
    "moved-by-hand": Mishaps._move,
}
