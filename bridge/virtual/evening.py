"""One evening on the virtual railway: crews do what they are told, boards report what they see.

Rule: everything happens on one timeline of virtual time, by chance of the seed alone; the same railway, script, seed and
mistakes give the same evening to the byte. Whoever wants it live lets the timeline run no faster than a real clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from random import Random

from bridge.core.plan import Railway
from bridge.virtual import orders as o
from bridge.virtual.board import ALIVE_S, Board
from bridge.virtual.clock import SessionClock
from bridge.virtual.inputs import Inputs
from bridge.virtual.motion import Profile
from bridge.virtual.noise import Noise
from bridge.virtual.script import Script, ScriptError, ScriptFault
from bridge.virtual.timeline import Timeline
from bridge.virtual.tokens import Tokens
from bridge.virtual.trips import Trip, trip_of
from bridge.virtual.truth import Truth, Watched
from bridge.virtual.ways import RunOrder, plan_run
from bridge.virtual.world import BlockedError, Crossing, Run, World
from bridge.wire.lines import BoardLine, HostLine, Report

GAIN_MM_S2 = 120.0
PATIENCE_S = 600.0
TAIL_S = 4.0


@dataclass
class _Waiting:
    crew: o.Crew
    condition: o.Condition
    where: str


class Evening:
    """Boards, vehicles and crews on one timeline. `on_line(board, line)` and `on_words(words)` hear what is said."""

    def __init__(
        self,
        railway: Railway,
        script: Script,
        *,
        seed: int = 1,
        noise: Noise | None = None,
        mistakes: Iterable[str] = (),
        crews: Iterable[o.Crew] | None = None,
    ) -> None:
        self.railway, self.script, self.seed = railway, script, seed
        self.timeline = Timeline()
        self.world = World(railway)
        self.truth = Truth(railway, seed, tuple(mistakes))
        self.clock = SessionClock(railway.plant.clock, script.begin_s)
        self.on_line: Callable[[Board, BoardLine], None] = lambda board, line: None
        self.on_words: Callable[[str], None] = lambda words: None
        self._chance = Random(f"crews {seed}")
        self.boards = _boards(railway, Random(f"boards {seed}"))
        self.inputs = Inputs(railway.plant, self.boards, self.world.on, self.timeline, send=self._send)
        self.inputs.noise, self.inputs.chance = noise or Noise(), Random(f"noise {seed}")
        self.tokens = Tokens(railway, self.inputs)
        self.crews: list[o.Crew] = list(script.crews if crews is None else crews)
        self._busy = {crew.name for crew in self.crews}
        self._working: dict[str, str] = {}
        self._waiting: list[_Waiting] = []
        self._marks: set[str] = set()
        self._losing: dict[str, o.BoardFails] = {}
        self._lost: dict[str, int] = {}
        self.begin_s = script.after_s
        self.finished = False
        self._started = False

    # -- letting it run ------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Everything that happens by itself is put on the timeline; once."""
        if self._started:
            return
        self._started = True
        phases = Random(f"phases {self.seed}")
        for board in self.boards.values():
            board.awake = True
            self.timeline.after(phases.random() * ALIVE_S, lambda board=board: self._alive(board))  # type: ignore[misc]
        self.timeline.at(self.begin_s, self._begin)

    def run(self) -> None:
        """To the end, as fast as it goes. Raises `ScriptError` where a crew cannot do what it is told."""
        self.start()
        while not self.finished:
            self.timeline.step()

    def hear(self, board: str, line: HostLine) -> None:
        """The host tells a board something."""
        known = self.boards.get(board)
        if known is not None:
            for answer in known.answer(self.timeline.now_s, line):
                self.on_line(known, answer)

    def truth_json(self) -> str:
        """The truth so far, as the text of its file."""
        return self.truth.as_json(self.world, self.begin_s, self.timeline.now_s)

    def train_of(self, engine: str) -> str:
        """The working an engine is on, else its own id."""
        return self._working.get(engine, engine)

    def _begin(self) -> None:
        self.clock.go(self.timeline.now_s)
        whole = int(self.script.begin_s)
        self.on_words(f"begin {whole // 3600:02d}:{whole // 60 % 60:02d}" + (f":{whole % 60:02d}" if whole % 60 else ""))
        self.inputs.begin_noise()
        for crew in self.crews:
            if crew.engine is not None:
                self.truth.stands(crew.engine, self.world.rake_of(crew.engine).ids)
        for crew in self.crews:
            self.timeline.after(0.1, lambda crew=crew: self._advance(crew))  # type: ignore[misc]

    # -- boards --------------------------------------------------------------------------------------------------------

    def _alive(self, board: Board) -> None:
        if board.awake:
            self.on_line(board, board.alive(self.timeline.now_s))
        self.timeline.after(ALIVE_S, lambda: self._alive(board))

    def _send(self, board: Board, line: BoardLine) -> None:
        losing = self._losing.get(board.name)
        if losing is not None and isinstance(line, Report) and self._lost[board.name] < losing.lost:
            self._lost[board.name] += 1
            if not losing.kept:
                board.forget(line.seq)
            what = "lost, sent again when asked" if losing.kept else "lost"
            row = {"board": board.name, "what": what, "boot": line.boot, "seq": line.seq, "t": round(self.timeline.now_s, 3)}
            self.truth.boards.append(row)
            self._mark(f"{board.name}-lost")
            return
        if board.awake:
            self.on_line(board, line)

    def _fail(self, order: o.BoardFails) -> None:
        board, now_s = self.boards[order.board], self.timeline.now_s
        if order.lost:
            self._losing[order.board], self._lost[order.board] = order, 0
            return
        board.awake = False
        row = {"board": board.name, "what": "silent", "t": round(now_s, 3), "until_t": round(now_s + order.silent_s, 3)}
        self.truth.boards.append(row)
        self.timeline.after(order.silent_s, lambda: self._wake(board))

    def _wake(self, board: Board) -> None:
        board.restart(self.timeline.now_s)
        for line in board.start(self.timeline.now_s, "watchdog"):
            self.on_line(board, line)

    # -- crews ---------------------------------------------------------------------------------------------------------

    def _advance(self, crew: o.Crew) -> None:
        while True:
            told = crew.next_order()
            if told is None:
                self._busy.discard(crew.name)
                if not self._busy:
                    self.timeline.after(TAIL_S, self._finish)
                return
            order, where = told
            try:
                if not self._do(crew, order, where):
                    return
            except BlockedError as blocked:
                raise _refused(where, crew, blocked) from None

    def _finish(self) -> None:
        self.finished = True

    def _do(self, crew: o.Crew, order: o.Order, where: str) -> bool:
        """Do an order; whether it is done already. Otherwise the crew goes on when it is."""
        match order:
            case o.UntilClock(clock_s):
                return self._wait_for_clock(crew, clock_s)
            case o.Waits(seconds):
                self.timeline.after(seconds, lambda: self._advance(crew))
                return False
            case o.WaitsUntil(condition):
                if self._holds(condition):
                    return True
                self._waiting.append(_Waiting(crew, condition, where))
                self.timeline.after(PATIENCE_S * 2, lambda: self._give_up(where, crew, condition))
                return False
            case o.RunsTo() | o.DrawsClear() | o.RunsUntil() | o.Couples():
                self._prepare(crew, order, where)
                return False
            case o.Leaves(vehicles):
                pause_s = self._chance.uniform(1.5, 2.5)
                self.timeline.after(pause_s, lambda: self._leave(crew, vehicles, where))
                return False
            case o.Works(working):
                self._working[crew.engine or ""] = working
                self.truth.stands(crew.engine or "", self.world.rake_of(crew.engine or "").ids)
            case o.Ends():
                self._end(crew)
            case o.TakesToken(section, station):
                self.tokens.take(section, station)
            case o.LaysToken(section, station):
                self.tokens.lay(section, station)
                self._look()
            case o.Says(words):
                self._say(words)
            case o.Switches(detector, on):
                self.inputs.switch(self.railway.plant.detectors[detector], on)
            case o.BoardFails():
                self._fail(order)
            case o.Marks(name):
                self._mark(name)
            case o.CarriesTag(vehicle, tag):
                self.world.swap_tags(vehicle, (tag,))
            case o.Expects(expectation):
                self._watch(Watched(expectation))
        return True

    def _say(self, words: str) -> None:
        if words == "stop-clock":
            self.clock.stop(self.timeline.now_s)
        self.on_words(words)
        if words == "go-on":
            self.clock.go(self.timeline.now_s)
            self._look()

    def _wait_for_clock(self, crew: o.Crew, clock_s: float) -> bool:
        left_s = self.clock.wait_s(clock_s, self.timeline.now_s)
        if left_s <= 1e-6:
            return True

        def look() -> None:
            if self._wait_for_clock(crew, clock_s):
                self._advance(crew)

        self.timeline.after(left_s if self.clock.running else 0.5, look)
        return False

    def _end(self, crew: o.Crew) -> None:
        engine = crew.engine or ""
        rake = self.world.rake_of(engine).ids
        self.truth.leaves_off(self.timeline.now_s, engine, self.train_of(engine), rake)
        self._working.pop(engine, None)

    def _leave(self, crew: o.Crew, vehicles: tuple[str, ...], where: str) -> None:
        key = self.world.key_of(crew.engine or "")
        ids = self.world.rakes[key].ids
        leave = set(vehicles) or {vehicle for vehicle in ids if vehicle != crew.engine}
        try:
            missing = leave - set(ids)
            if missing:
                raise BlockedError(f"{' '.join(sorted(missing))} not coupled to it; coupled are {' '.join(ids)}")
            self.world.uncouple(key, leave)
        except BlockedError as blocked:
            raise _refused(where, crew, blocked) from None
        for vehicle in sorted(leave):
            self.truth.left(self.timeline.now_s, vehicle, self.world.places_of(vehicle)[0])
        self._advance(crew)

    # -- conditions ----------------------------------------------------------------------------------------------------

    def _holds(self, condition: o.Condition) -> bool:
        on = self.world.on
        match condition.what:
            case "always":
                return True
            case "in":
                return condition.one in on[condition.place]
            case "off":
                return condition.one not in on[condition.place]
            case "within":
                return [s for s in on if condition.one in on[s]] == [condition.place]
            case "clear":
                return not on[condition.place]
            case "token":
                return self.tokens.lies_at(condition.place) == condition.one
            case "read":
                return self.inputs.reads.get(condition.one, 0) >= condition.count
            case _:
                return condition.one in self._marks

    def _mark(self, name: str) -> None:
        self._marks.add(name)
        self.timeline.after(0.0, self._look)

    def _look(self) -> None:
        """Something has changed: who waited for it goes on."""
        for waiting in [w for w in self._waiting if self._holds(w.condition)]:
            self._waiting.remove(waiting)
            self.timeline.after(0.2, lambda crew=waiting.crew: self._advance(crew))  # type: ignore[misc]
        for watched in self.truth.watched:
            self._judge(watched)

    def _watch(self, watched: Watched) -> None:
        self.truth.watched.append(watched)
        self._judge(watched)

    def _judge(self, watched: Watched) -> None:
        expectation = watched.expectation
        if watched.shown_s is None and self._holds(expectation.shows.condition):
            watched.shown_s = self.timeline.now_s + expectation.shows.after_s
        if watched.shown_s is not None and watched.due_s is None and self._holds(expectation.due.condition):
            watched.due_s = self.timeline.now_s + expectation.due.after_s

    def _give_up(self, where: str, crew: o.Crew, condition: o.Condition) -> None:
        if any(w.where == where and w.crew is crew for w in self._waiting):
            raise _refused(where, crew, BlockedError(f"it has waited {PATIENCE_S * 2:.0f} s in vain"))

    # -- runs ----------------------------------------------------------------------------------------------------------

    def _prepare(self, crew: o.Crew, order: RunOrder, where: str) -> None:
        planned = plan_run(self.world, self.world.key_of(crew.engine or ""), order)
        pause_s = self._chance.uniform(1.2, 2.4)
        for n, (throat, road) in enumerate(self._roads_to_set(planned.way)):
            set_s = 0.3 + 0.25 * n
            self.timeline.after(set_s, lambda throat=throat, road=road: self.inputs.set_road(throat, road))  # type: ignore[misc]
        waited_from_s = self.timeline.now_s
        self.timeline.after(pause_s, lambda: self._set_off(crew, order, where, waited_from_s))

    def _roads_to_set(self, way: tuple[str, ...]) -> list[tuple[str, str]]:
        plant = self.railway.plant
        found = []
        for one, other in pairwise(way):
            if one in plant.roads:
                found.append((other, one))
            elif other in plant.roads:
                found.append((one, other))
        return found

    def _set_off(self, crew: o.Crew, order: RunOrder, where: str, waited_from_s: float) -> None:
        engine = crew.engine or ""
        key = self.world.key_of(engine)
        try:
            planned = plan_run(self.world, key, order)
            sections = [s for s in planned.way if s in self.railway.plant.sections]
            usual = self.script.speed_mm_s if sections and isinstance(order, o.RunsTo) else self.script.shunting_mm_s
            profile = Profile(planned.distance_mm, order.speed_mm_s or usual, GAIN_MM_S2)
            run, crossings = self.world.start(key, planned.rake, profile, self.timeline.now_s)
        except BlockedError as blocked:
            if blocked.passing and self.timeline.now_s - waited_from_s < PATIENCE_S:
                self.timeline.after(0.5, lambda: self._set_off(crew, order, where, waited_from_s))
                return
            raise _refused(where, crew, blocked) from None
        trip = trip_of(self.railway.plant, planned, order, engine, self.train_of(engine))
        self._forget_fields(run, crossings)
        for crossing in crossings:
            t_s = run.start_s + profile.at_s(crossing.covered_mm)
            self.timeline.at(t_s, lambda crossing=crossing: self._cross(crossing, trip))  # type: ignore[misc]
        self.timeline.at(run.end_s, lambda: self._arrive(crew, run, order, trip))

    def _forget_fields(self, run: Run, crossings: list[Crossing]) -> None:
        """A tag that leaves a reader's field by another road than it came by is out of it."""
        leaving = {(c.detector.id, c.tag) for c in crossings if c.what == "left" and c.detector is not None}
        reached = {sensor.detector.id for sensor in self.world.sensors_on(run.rake)}
        tags = {tag for vehicle in run.rake.vehicles for tag in vehicle.tags}
        self.inputs.forget_fields(tags, reached, leaving)

    def _cross(self, crossing: Crossing, trip: Trip | None) -> None:
        now_s = self.timeline.now_s
        if crossing.detector is not None:
            (self.inputs.felt if crossing.what == "felt" else self.inputs.left)(crossing.detector, crossing.tag)
        else:
            vehicles = self.world.on[crossing.stretch]
            if crossing.what == "in":
                vehicles[crossing.vehicle.id] = crossing.vehicle
            else:
                vehicles.pop(crossing.vehicle.id, None)
            self.truth.moved(now_s, crossing.vehicle.id, crossing.what, crossing.stretch)
            self.inputs.stretch_changed(crossing.stretch)
            if trip is not None:
                trip.crossed(self.truth, now_s, crossing, vehicles)
        self._look()

    def _arrive(self, crew: o.Crew, run: Run, order: RunOrder, trip: Trip | None) -> None:
        self.world.stop(run)
        if isinstance(order, o.Couples):
            other = self.world.key_of(order.vehicle)
            for vehicle in self.world.rakes[other].ids:
                self.truth.joined(self.timeline.now_s, vehicle, self.world.places_of(vehicle)[0])
            self.world.couple(run.key, other)
        if trip is not None:
            self.truth.stands(trip.engine, self.world.rakes[run.key].ids)
        self._look()
        self._advance(crew)


def _boards(railway: Railway, chance: Random) -> dict[str, Board]:
    plant = railway.plant
    made = {}
    for name in plant.boards:
        inputs = tuple(sorted(d.input for d in plant.detectors.values() if d.board == name))
        started_ms = chance.choice((chance.randrange(2_000, 900_000), chance.randrange((1 << 32) - 600_000, 1 << 32)))
        drift_ppm = chance.choice((chance.uniform(-50, 50), chance.uniform(-2500, 2500)))
        made[name] = Board(name, inputs, chance.randrange(1, 400), started_ms, drift_ppm)
    return made


def _refused(where: str, crew: o.Crew, blocked: BlockedError) -> ScriptError:
    file, _, line_no = where.rpartition(":")
    number = int(line_no) if line_no.isdigit() else 0
    return ScriptError([ScriptFault(file, number, f"crew {crew.name}", f"{crew.name} cannot do this: {blocked}.")])
