"""Faults in the course of an evening: those that happen at some moment, and from when each could be noticed.

Rule: every fault has a row in the truth from the start: `fault`, `subject`, `what` (a sentence), `t` (from when it was so;
null where it has not come about), `until_t` (null where it stayed), `shows_t` (from when it could be noticed; null where it
never could), `by` (the detectors by which) and `times` (how often it showed).
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind
from bridge.virtual.board import ALIVE_S
from bridge.virtual.boards import Boards
from bridge.virtual.faults import FAULTS, Fault
from bridge.virtual.hands import is_quiet, move
from bridge.virtual.scene import Scene
from bridge.virtual.subjects import stations_of
from bridge.virtual.world import BlockedError

HELD_UP_S = 1.0  # who waits for a quiet moment looks so often
SHORTEST_S = 600.0  # an evening without a timetable counts as so long
BROWNOUTS = 4  # no more of them in an evening

Row = dict[str, Any]


class Mishaps:
    """The faults of one evening."""

    def __init__(self, scene: Scene, cabinet: Boards, faults: list[Fault], seed: int) -> None:
        self._scene, self._cabinet, self._seed = scene, cabinet, seed
        self._rows: list[tuple[Fault, Row]] = [(fault, self._row(fault)) for fault in faults]
        self._waiting: set[str] = set()
        scene.truth.faults += [row for _, row in self._rows]
        if faults:
            scene.inputs.witness = self._witness

    def _row(self, fault: Fault) -> Row:
        later = fault.name in _LATER
        return {
            "fault": fault.name,
            "subject": fault.subject,
            "what": FAULTS[fault.name].rpartition(" (=")[0],
            "t": None if later else 0.0,
            "until_t": None,
            "shows_t": None,
            "by": [],
            "times": 0,
        }

    def begin(self) -> None:
        """The session has begun: what happens later is put on the timeline."""
        for fault, row in self._rows:
            chance = Random(f"{fault.name} {fault.subject} {self._seed}")
            if fault.name in _LATER:
                _LATER[fault.name](self, fault, row, chance)
            elif fault.name == "misplaced":
                self._shows_by_track(fault, row, self._scene.railway)

    # -- what can be noticed -------------------------------------------------------------------------------------------

    def _shows(self, row: Row, *detectors: str) -> None:
        if row["shows_t"] is None:
            row["shows_t"] = round(self._scene.now_s, 3)
        row["times"] += 1
        row["by"] += [detector for detector in detectors if detector not in row["by"]]

    def _witness(self, what: str, detector: Detector, tag: str) -> None:
        for fault, row in self._rows:
            if row["t"] is not None and self._tells(fault, what, detector, tag):
                self._shows(row, detector.id)

    def _tells(self, fault: Fault, what: str, detector: Detector, tag: str) -> bool:
        """Whether this instant could show the fault to somebody who looks for it."""
        one, stock = fault.subjects[0], self._scene.railway.stock
        match fault.name, what:
            case "weak-tag", "unread":
                return tag in stock[one].tags
            case ("dead-reader" | "deaf-reader" | "slow-reader", "unread") | ("silent-reader", "silent"):
                return detector.id == one
            case "cross-talk", "false-read":
                return detector.id in fault.subjects
            case "dirty-rail", "drop":
                return detector.covers == one
            case "dirty-engine", "drop":
                return one in self._scene.world.on[detector.covers or ""]
            case ("misplaced" | "moved-by-hand", "read"):
                return tag in stock[one].tags
            case "swapped-tags", "read":
                return any(tag in stock[vehicle].tags for vehicle in fault.subjects)
        return False

    def _shows_by_track(self, fault: Fault, row: Row, believed: Railway) -> None:
        """A road that has a detector tells at once, where it is clear of what should be there, or the other way round."""
        plant, world = self._scene.railway.plant, self._scene.world
        for stretch, detectors in plant.covering.items():
            should = {s.vehicle for s in believed.standing if s.place == stretch}
            is_so = any(v.detected for v in world.on[stretch].values())
            if is_so != any(believed.stock[v].detected for v in should) and fault.subjects[0] in should ^ set(
                world.on[stretch]
            ):
                self._shows(row, *(detector.id for detector in detectors))

    # -- what happens later --------------------------------------------------------------------------------------------

    def _at_some_moment(self, chance: Random, earliest: float, latest: float, do: Callable[[], None]) -> None:
        """Somewhere between two shares of the booked evening."""
        clock = self._scene.railway.plant.clock
        times = [t for w in self._scene.railway.workings.values() for c in w.calls for t in (c.arrive_s, c.depart_s) if t]
        span_s = max(SHORTEST_S, (max(times, default=0.0) - self._scene.script.begin_s) / max(clock, 1e-6))
        self._scene.timeline.after(chance.uniform(earliest, latest) * span_s, do)

    def _once_quiet(self, places: set[str], do: Callable[[], bool]) -> None:
        """Do it as soon as nothing runs there and it can be."""
        scene = self._scene
        if not (is_quiet(scene.world, places, scene.now_s) and do()):
            scene.timeline.after(HELD_UP_S, lambda: self._once_quiet(places, do))

    def _float(self, fault: Fault, row: Row, chance: Random) -> None:
        detector = self._scene.railway.plant.detectors[fault.subjects[0]]

        def burst() -> None:
            now_s, lasts_s = self._scene.now_s, chance.uniform(0.3, 1.5)
            half_s = 0.5 / chance.choice((50.0, 100.0))
            row["t"] = row["t"] or round(now_s, 3)
            self._shows(row, detector.id)
            t_s, level = now_s, chance.random() < 0.5
            while t_s < now_s + lasts_s:
                self._scene.timeline.at(t_s, lambda level=level: self._scene.inputs.float_to(detector, level))  # type: ignore[misc]
                t_s, level = t_s + half_s * chance.uniform(0.8, 1.2), not level
            self._scene.timeline.at(t_s, lambda: self._scene.inputs.float_to(detector, None))
            self._scene.timeline.after(lasts_s + chance.expovariate(1 / 60.0), burst)

        self._at_some_moment(chance, 0.05, 0.3, burst)

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

        self._at_some_moment(chance, 0.2, 0.6, lambda: self._once_quiet(set(fed), trip))

    def _brown_out(self, fault: Fault, row: Row, chance: Random) -> None:
        board, stations = fault.subjects[0], stations_of(self._scene.railway, fault.subjects[0])

        def reset() -> None:
            if self._cabinet.by_name[board].awake and row["times"] < BROWNOUTS:
                self._shows(row)
                self._cabinet.restart(board, chance.uniform(1.0, 2.0), "brownout", "brownout")

        def moved(throat: str) -> None:
            if throat.partition(".")[0] in stations and (chance.random() < 0.3 or row["t"] is None):
                row["t"] = row["t"] or round(self._scene.now_s, 3)
                self._scene.timeline.after(chance.uniform(0.01, 0.08), reset)

        self._scene.inputs.on_points.append(moved)

    def _cut_off(self, fault: Fault, row: Row, chance: Random) -> None:
        away_s, stations = chance.uniform(25.0, 45.0), stations_of(self._scene.railway, fault.subjects[0])
        near = {stretch for stretch in self._scene.world.on if stretch.partition(".")[0] in stations}

        def cut() -> None:
            """At a bad moment: while something runs there."""
            now_s = self._scene.now_s
            if is_quiet(self._scene.world, near, now_s):
                self._scene.timeline.after(HELD_UP_S, cut)
                return
            row["t"], row["until_t"] = round(now_s, 3), round(now_s + away_s, 3)
            self._cabinet.cut_off(fault.subjects[0], away_s)
            self._scene.timeline.after(ALIVE_S, lambda: self._shows(row))

        self._at_some_moment(chance, 0.1, 0.5, cut)

    def _move(self, fault: Fault, row: Row, chance: Random) -> None:
        scene, (vehicle, road) = self._scene, fault.subjects

        def by_hand() -> bool:
            place = scene.world.places_of(vehicle)[0]
            before = {s: bool(scene.world.on[s]) for s in (place, road)}
            try:
                move(scene.world, vehicle, road)
            except BlockedError:
                return False
            row["t"] = round(scene.now_s, 3)
            row["what"] = f"a hand took {vehicle} from {place} to {road}"
            scene.inputs.forget_fields(set(scene.railway.stock[vehicle].tags), set(), set())
            for way, stretch in (("out", place), ("in", road)):
                scene.truth.moved(scene.now_s, vehicle, way, stretch)
                scene.inputs.stretch_changed(stretch)
                seen = [d.id for d in scene.railway.plant.covering.get(stretch, ())]
                if seen and before[stretch] != bool(scene.world.on[stretch]):
                    self._shows(row, *seen)
            return True

        stations = {place.partition(".")[0] for place in (road, scene.world.places_of(vehicle)[0])}
        near = {s for s in scene.world.on if s.partition(".")[0] in stations}
        self._at_some_moment(chance, 0.2, 0.6, lambda: self._once_quiet(near, by_hand))


_LATER: dict[str, Callable[[Mishaps, Fault, Row, Random], None]] = {
    "floating-input": Mishaps._float,
    "power-trip": Mishaps._trip,
    "brownout": Mishaps._brown_out,
    "link-drops": Mishaps._cut_off,
    "moved-by-hand": Mishaps._move,
}
