"""Faults that happen at some moment of an evening: a trip, a reset, a link that drops, a hand.

Rule: the moment is the seed's, a share of the booked evening; what needs a quiet moment waits for one. What the bridge
should say of a fault is expected of it in the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random

from bridge.core.plant import DetectorKind
from bridge.virtual.board import ALIVE_S
from bridge.virtual.boards import Boards
from bridge.virtual.faults import Fault
from bridge.virtual.hands import is_quiet, move
from bridge.virtual.noticing import Noticing, Row
from bridge.virtual.orders import BoardFails, Condition, Expectation, Moment
from bridge.virtual.scene import Scene
from bridge.virtual.subjects import stations_of
from bridge.virtual.truth import Watched
from bridge.virtual.world import BlockedError

HELD_UP_S = 1.0  # who waits for a quiet moment looks so often
SHORTEST_S = 600.0  # an evening without a timetable counts as so long
BROWNOUTS = 4  # no more of them in an evening
SILENT_S = 40.0
LOST_REPORTS = 3
UNHEARD_S = (4.0, 6.0)  # a board that has fallen silent is missed so much later: from, to
UNSENT_S = (5.0, 7.0)  # a report that is not sent again either counts as lost so much later: from, to


class Mishaps:
    """The faults of one evening."""

    def __init__(self, scene: Scene, cabinet: Boards, faults: Iterable[Fault], seed: int) -> None:
        self._scene, self._cabinet, self._seed = scene, cabinet, seed
        self._noticing = Noticing(scene, faults, _LATER)
        self._shows = self._noticing.shows

    def begin(self) -> None:
        """The session has begun: what happens later is put on the timeline."""
        for fault, row in self._noticing.rows:
            chance = Random(f"{fault.name} {fault.subject} {self._seed}")
            if fault.name in _LATER:
                _LATER[fault.name](self, fault, row, chance)
            elif fault.name == "misplaced":
                self._noticing.shows_by_track(fault, row, self._scene.railway)
            elif fault.name == "unlisted-tag":
                tag = self._scene.world.railway.stock[fault.subjects[0]].tags[0]
                twice = Moment(Condition("read", tag, count=2))
                self._expect("tag-unknown", ("tag", tag), twice, twice)

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
        away_s = chance.uniform(25.0, 45.0)

        def cut() -> None:
            now_s = self._scene.now_s
            row["t"], row["until_t"] = round(now_s, 3), round(now_s + away_s, 3)
            self._cabinet.cut_off(fault.subjects[0], away_s)
            self._is_unheard(fault, row)

        self._at_some_moment(chance, 0.1, 0.5, lambda: self._once_it_runs(fault.subjects[0], cut))

    def _fall_silent(self, fault: Fault, row: Row, chance: Random) -> None:
        board = fault.subjects[0]

        def silence() -> None:
            now_s = self._scene.now_s
            if not self._cabinet.by_name[board].awake:  # it is just starting anew for another reason
                self._scene.timeline.after(HELD_UP_S, silence)
                return
            row["t"], row["until_t"] = round(now_s, 3), round(now_s + SILENT_S, 3)
            self._cabinet.fail(BoardFails(board, silent_s=SILENT_S))
            self._is_unheard(fault, row)

        self._at_some_moment(chance, 0.1, 0.6, silence)

    def _lose(self, fault: Fault, row: Row, chance: Random) -> None:
        board, lost = fault.subjects[0], 0

        def one_more(name: str) -> None:
            nonlocal lost
            if name == board and row["t"] is not None and lost < LOST_REPORTS:
                lost += 1
                row["until_t"] = round(self._scene.now_s, 3)
                self._scene.timeline.after(ALIVE_S, lambda: self._shows(row))

        def begin() -> None:
            row["t"] = round(self._scene.now_s, 3)
            shows, due = (Moment(Condition("marked", f"{board}-losing"), after_s) for after_s in UNSENT_S)
            self._expect("reports-lost", ("board", board), shows, due, "reports-lost")
            self._cabinet.fail(BoardFails(board, lost=LOST_REPORTS))

        self._cabinet.on_lost.append(one_more)
        self._at_some_moment(chance, 0.05, 0.35, lambda: self._once_it_runs(board, begin))

    def _once_it_runs(self, board: str, do: Callable[[], None]) -> None:
        """At a bad moment: while something runs at the board's station."""
        scene, stations = self._scene, stations_of(self._scene.railway, board)
        near = {stretch for stretch in scene.world.on if stretch.partition(".")[0] in stations}
        if is_quiet(scene.world, near, scene.now_s):
            scene.timeline.after(HELD_UP_S, lambda: self._once_it_runs(board, do))
        else:
            do()

    def _is_unheard(self, fault: Fault, row: Row) -> None:
        """Nothing comes from a board from now on: it is missed once its next line should have come."""
        now_s, subject = self._scene.now_s, (("board", fault.subjects[0]),)
        missed = Expectation("board-lost", subject, Moment(Condition("always")), Moment(Condition("always")))
        self._scene.truth.watched.append(Watched(missed, now_s + UNHEARD_S[0], now_s + UNHEARD_S[1]))
        self._scene.timeline.after(ALIVE_S, lambda: self._shows(row))

    def _expect(self, kind: str, of: tuple[str, str], shows: Moment, due: Moment, *may_follow: str) -> None:
        self._scene.truth.watched.append(Watched(Expectation(kind, (of,), shows, due, may_follow)))

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

        self._at_some_moment(chance, 0.2, 0.6, lambda: self._once_quiet({road}, by_hand))

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
    "brownout": Mishaps._brown_out,
    "link-drops": Mishaps._cut_off,
    "moved-by-hand": Mishaps._move,
    "silent-board": Mishaps._fall_silent,
    "losing-board": Mishaps._lose,
}
