"""The first engine of inference: one ordered picture of the layout, moved on by each observation.

Rule: the picture is always physically possible: vehicles move over boundaries in order. What a reader missed is inferred from
who stands before whom; what no reader sees, from track detectors that become occupied or clear. Where more than one reading
of the evidence is possible the likeliest is taken, and a later read puts it right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bridge.core.conditioning import Observation
from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Detector, DetectorKind, Plant, RoadKind
from bridge.core.whereabouts import Belief, Change, Crossing, Joined, Left, Prior
from bridge.core.whereabouts.choosing import choose_goal, choose_mover, is_doubtful
from bridge.core.whereabouts.lines import OFF, Lines
from bridge.core.whereabouts.sureness import Mark, sureness

REPEAT_S = 1.5  # a tag seen again at the same reader sooner than this has not turned back: common practice, no source
CONFIRM_S = 6.0  # a read so soon after the crossing was inferred confirms it; sooner than a train can stop and turn back
SETTLE_S = 8.0  # quiet time after which an unwatched throat is taken to be empty again
UNREAD_MOST = 2  # so many may pass a reader unread before it is likelier that they stood in another order
STEADY_S = 0.5  # a road or section must stay occupied so long to tell by itself that something came on to it (`occupied_for`)
READ_S = 2.5  # a vehicle that comes on to a road is read at its mouth within this, or was missed
DOUBT_S = 1.5  # where two engines could have gone out, its reader is given so long to tell which
FRESH_S = 6.0  # a treadle passed again so soon, or behind a read, tells of the same passage
AHEAD_S = 0.4  # a throat occupied so long before a treadle was passed holds what passed it
LOOSE_S = 4.0  # what has not followed an engine out of a throat after so long was set down before
STAYED_S = 1.5  # a road that still says occupied so long after its engine left holds something


@dataclass(slots=True)
class Pass:
    """The last read of a vehicle: where, when, and which way it was taken to go."""

    boundary: str
    t: float
    outward: bool


class Follower:
    """One ordered picture, moved on by evidence (see `bridge.core.whereabouts.Inference`)."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.plant = plant
        self.stock = stock
        self.lines = Lines(plant)
        self.tags = {tag: vehicle.id for vehicle in stock.values() for tag in vehicle.tags}
        self.engines = {vehicle.id for vehicle in stock.values() if vehicle.kind == "engine"}
        self.leads: dict[str, str] = {}
        self.marks: dict[str, Mark] = {}
        self.passes: dict[str, Pass] = {}
        self.inferred: dict[str, Pass] = {}
        self.active: dict[str, float] = {}
        self.came_by: dict[str, str] = {}
        self.awoken: dict[str, float] = {}
        self.settling: dict[str, float] = {}
        self.checks: dict[str, tuple[float, str, str]] = {}
        self.loose: dict[str, float] = {}
        self.waiting: dict[str, tuple[float, int | None]] = {}
        self.changed: dict[str, float] = {}
        self.touched: dict[str, None] = {}
        self.changes: list[Change] = []

    # --- what others read

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        return self.lines.at.get(vehicle, OFF)

    def line(self, stretch: str) -> Sequence[str]:
        """The vehicles believed on a stretch, from its end 0."""
        return self.lines.on.get(stretch, ())

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with."""
        return vehicle if vehicle in self.engines and vehicle not in self.leads else self.leads.get(vehicle)

    def since(self, vehicle: str) -> float:
        """Host seconds when a vehicle came to its stretch."""
        return self.changed.get(vehicle, -1e9)

    def company(self, engine: str) -> list[str]:
        """The vehicles that go with an engine, itself first, then as they stand from it."""
        mine = [v for v, lead in self.leads.items() if lead == engine]
        here = self.place(engine)
        rank = self._rank(engine)
        mine.sort(key=lambda v: (self.place(v) != here, rank.get(v, 999), v))
        return [engine, *mine]

    def _rank(self, engine: str) -> dict[str, int]:
        row = list(self.line(self.place(engine)))
        if engine not in row:
            return {}
        at = row.index(engine)
        return {v: abs(i - at) for i, v in enumerate(row)}

    def belief(self, vehicle: str) -> Belief:
        """What is believed of one vehicle."""
        place = self.place(vehicle)
        mark = self.marks.get(vehicle) or Mark("assumed", "assumed", ())
        return Belief(place, self.lines.index(vehicle), (), sureness(mark), mark.by, mark.evidence)

    def drain_touched(self) -> list[str]:
        """The vehicles whose belief may have changed since last asked."""
        found = list(self.touched)
        self.touched.clear()
        return found

    def due(self) -> float | None:
        """When a throat is to be settled, or a road left by an engine looked at again."""
        times = [*self.settling.values(), *self.loose.values(), *(t for t, _, _ in self.checks.values()), *(t for t, _ in self.waiting.values())]
        return min(times) if times else None

    # --- what happens

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down as the file says."""
        for vehicle, place in standing:
            self.lines.put(vehicle, place)
        for vehicle in self.stock:
            self.lines.at.setdefault(vehicle, OFF)
            self._mark(vehicle, "assumed", "file", None)

    def couple(self, engine: str, rake: Sequence[str]) -> None:
        """The vehicles of a rake that stand where the engine stands go with it from now on."""
        for vehicle in rake:
            if vehicle != engine and vehicle not in self.leads and self.place(vehicle) == self.place(engine):
                self.leads[vehicle] = engine
                self.touched[vehicle] = None

    def knows_tag(self, tag: str) -> bool:
        """True where a vehicle carries this tag."""
        return tag in self.tags

    def learn_tag(self, tag: str, vehicle: str) -> None:
        """A tag belongs to a vehicle from now on."""
        self.tags[tag] = vehicle

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation; what changed."""
        detector = self.plant.detectors[seen.detector]
        if detector.kind is DetectorKind.READER and seen.tag is not None and seen.moves and detector.at is not None:
            self._read(seen, self.plant.boundaries[detector.at], prior)
        elif detector.kind is DetectorKind.TREADLE and seen.moves and detector.at is not None:
            self._passed(seen, self.plant.boundaries[detector.at], detector, prior)
        elif detector.kind is DetectorKind.TRACK and detector.covers is not None:
            state = prior.stretch_state(detector.covers)
            if seen.state == "occupied":
                self._occupied(detector.covers, seen, prior)
            elif seen.state == "clear" and state == "clear":
                self._cleared(detector.covers, seen.t, seen.n, prior)
        return self._drain()

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """Settle what has been quiet long enough, and take what has stayed occupied."""
        for stretch in [k for k, row in self.waiting.items() if row[0] <= t]:
            _, n = self.waiting.pop(stretch)
            if prior.steady(stretch):
                self._come_on(stretch, t, n, prior)
        for throat in [k for k, at in self.settling.items() if at <= t]:
            del self.settling[throat]
            if self._is_quiet(throat, t, prior):
                self._empty_throat(throat, t, None, prior, "carried")
            elif self.line(throat):
                self.settling[throat] = round(t + SETTLE_S, 6)
        for throat in [k for k, at in self.loose.items() if at <= t]:
            del self.loose[throat]
            self._set_down(throat, t, prior)
        for road in [k for k, row in self.checks.items() if row[0] <= t]:
            _, engine, origin = self.checks.pop(road)
            self._left_something(road, engine, origin, t, prior)
        return self._drain()

    def follow(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """What goes with a departed engine went into the section behind it; what was to stay has stayed, unless it was seen
        to go or could not have been set down unseen."""
        here = self.place(engine)
        for vehicle in self.company(engine)[1:]:
            place = self.place(vehicle)
            way = self.lines.path(place, section)
            if place in (section, here) or not 0 < len(way) <= 2:
                continue
            if prior.stays(vehicle, engine):
                told = self.plant.read_at(way[-1].id)
                if told or not prior.settled_elsewhere(vehicle, engine):
                    self._stay(vehicle, place, t, n, prior)
                    continue
            self._haul_alone(vehicle, way, t, n, "carried", "followed")
        for vehicle in self.company(engine)[1:]:
            if self.place(vehicle) != section and self.place(vehicle) in self.plant.roads:
                self._leave(vehicle, engine, t, n)
        return self._drain()

    def _stay(self, vehicle: str, place: str, t: float, n: int | None, prior: Prior) -> None:
        """A vehicle that was to stay, and was not seen to go: on its booked road, where that on which it stood is empty."""
        goal = prior.booked_to(vehicle)
        if goal is None or goal == place or (place in self.plant.roads and prior.stretch_state(place) != "clear"):
            return
        way = self.lines.path(place, goal)
        if way and way[-1].outer == goal:
            self._move(vehicle, goal, 0 if way[-1].end == 0 else None, t, n, "absence", "stayed")

    def gather(self, engine: str, section: str, t: float, n: int | None) -> list[Change]:
        """The section is clear behind the train: what was still believed there has come out behind the rest of it."""
        here = self.place(engine)
        way = self.lines.path(section, here) if here != section else []
        if not way:
            return []
        mine = [v for v in self.line(section) if self.leads.get(v) == engine]
        out = way[0]
        for vehicle in mine if out.end == 0 else mine[::-1]:
            self._cross(vehicle, out, False, t, n, "carried", "followed")
        self._stir(out.throat, t)
        return self._drain()

    def told_arrived(self, engine: str, road: str, t: float, n: int) -> list[Change]:
        """The whole train stands on the road, in the order in which it ran."""
        company = self.company(engine)
        start = self.place(engine)
        if start == road:
            return []
        way = self.lines.path(start, road)
        if not way:
            self._move(engine, road, None, t, n, "told", "told")
            return self._drain()
        end = way[-1].end if way[-1].outer == road else 0
        movers = [engine] if way[0].outer == start and way[0].outer in self.plant.roads else company
        toward = way[0].end if way[0].outer == start else way[0].throat_end
        order = {v: i for i, v in enumerate(self.line(start) if toward == 0 else list(self.line(start))[::-1])}
        for vehicle in sorted(movers, key=lambda v: (self.place(v) == start, order.get(v, -1))):
            if self.place(vehicle) in self.plant.roads and self.place(vehicle) != start:
                continue
            index = 0 if end == 0 else None
            self._move(vehicle, road, index, t, n, "told" if vehicle == engine else "carried", "told")
        return self._drain()

    def told_stands(self, vehicle: str, place: str, order: int | None, t: float, n: int) -> list[Change]:
        """An operator has looked: that stands."""
        index = None if order is None else order - 1
        if order is None and place != OFF:
            way = self.lines.path(self.place(vehicle), place) if self.place(vehicle) != OFF else []
            if way and way[-1].outer == place:
                index = 0 if way[-1].end == 0 else None
            elif place in self.plant.roads:
                index = 0 if self.plant.roads[place].open[0] == "up" else None
        self._move(vehicle, place, index, t, n, "told", "told")
        lead = self.leads.get(vehicle)
        if lead is not None and self.place(lead) != place and place in (*self.plant.roads, OFF):
            self._leave(vehicle, lead, t, n)
        return self._drain()

    def told_with(self, vehicle: str, engine: str | None, t: float, n: int) -> list[Change]:
        """An operator said whom a vehicle goes with."""
        old = self.leads.get(vehicle)
        if engine is None and old is not None:
            self._leave(vehicle, old, t, n)
        elif engine is not None and old != engine:
            self._join(vehicle, engine, self.place(vehicle), t, n)
        self._mark(vehicle, "told", "told", n)
        return self._drain()

    # --- readers

    def _read(self, seen: Observation, boundary: Boundary, prior: Prior) -> None:
        vehicle = self.tags.get(seen.tag or "")
        if vehicle is None:
            return
        last = self.passes.get(vehicle)
        if last is not None and last.boundary == boundary.id and seen.happened_t - last.t < self._span_s(vehicle):
            last.t = max(last.t, seen.happened_t)
            self._mark(vehicle, "seen", "seen", seen.n)
            return
        if last is not None and seen.happened_t < last.t - 0.001:
            return  # a read sent late, older than what is known since
        guess = self.inferred.pop(vehicle, None)
        if guess is not None and guess.boundary == boundary.id and seen.happened_t - guess.t < CONFIRM_S:
            if self.place(vehicle) in (boundary.outer, boundary.throat) or guess.outward != (boundary.outer in self.plant.roads):
                self._confirm(vehicle, boundary, guess.outward, seen, prior)
                return
        place = self.place(vehicle)
        if place == boundary.outer:
            outward = False
        elif place == boundary.throat:
            outward = True
        else:
            outward = self._bring(vehicle, boundary, seen, prior)
        start, goal = (boundary.throat, boundary.outer) if outward else (boundary.outer, boundary.throat)
        end = boundary.throat_end if outward else boundary.end
        if self.place(vehicle) == start:
            before = self.lines.ahead(vehicle, end)
            if self._unlikely_before(vehicle, before, boundary):
                self.lines.put_at_end(vehicle, start, end)
                before = []
            for each in [*before, vehicle]:
                by = ("seen", "seen") if each == vehicle else ("order", "missed")
                self._cross(each, boundary, outward, seen.t, seen.n, *by)
        self.passes[vehicle] = Pass(boundary.id, seen.happened_t, outward)
        self._mark(vehicle, "seen", "seen", seen.n)
        self._stir(boundary.throat, seen.t)
        if boundary.throat in self.loose or (vehicle in self.engines and outward and goal in self.plant.roads):
            self.loose[boundary.throat] = round(seen.t + LOOSE_S, 6)
        self._regroup(vehicle, start, goal, seen.t, seen.n, prior)

    def _confirm(self, vehicle: str, boundary: Boundary, outward: bool, seen: Observation, prior: Prior) -> None:
        """A read of a vehicle that was just taken to have crossed: it has."""
        self.passes[vehicle] = Pass(boundary.id, seen.happened_t, outward)
        self._mark(vehicle, "seen", "seen", seen.n)
        self._stir(boundary.throat, seen.t)
        if vehicle in self.engines:
            self._forsake(vehicle, seen.t, seen.n, prior)

    def _span_s(self, vehicle: str) -> float:
        """How long one vehicle may take to pass a reader: longer where it carries two tags."""
        return REPEAT_S if len(self.stock[vehicle].tags) < 2 else REPEAT_S + 0.5

    def _bring(self, vehicle: str, boundary: Boundary, seen: Observation, prior: Prior) -> bool:
        """Bring a vehicle seen away from where it was believed to this side of the boundary; True where it goes outward."""
        place = self.place(vehicle)
        way = self.lines.path(place, boundary.throat) if place != OFF else []
        through = bool(way) and boundary.id not in {b.id for b in way}
        if way and len(way) <= 1:
            if self._unlikely_before(vehicle, self.lines.ahead(vehicle, way[0].end), boundary):
                self.lines.put_at_end(vehicle, place, way[0].end)
            self._haul(vehicle, way, seen.t, seen.n, "order", "missed")
            return True
        if way and through and vehicle in self.engines:
            for each in self._near(vehicle):
                self._haul_alone(each, self.lines.path(self.place(each), boundary.throat), seen.t, seen.n, "carried", "jumped")
            return True
        outward = self._same_way(vehicle, boundary, through, prior)
        if outward:
            self._move(vehicle, boundary.throat, 0 if boundary.throat_end == 0 else None, seen.t, seen.n, "seen", "jumped")
        else:
            self._move(vehicle, boundary.outer, 0 if boundary.end == 0 else None, seen.t, seen.n, "seen", "jumped")
        return outward

    def _unlikely_before(self, vehicle: str, before: Sequence[str], boundary: Boundary) -> bool:
        """True where it is likelier that these do not stand before a vehicle than that they passed unread: too many, another
        engine's, or, at a section end, nobody's."""
        lead = self.leader(vehicle)
        others = {self.leader(v) for v in before} - {lead}
        if boundary.outer in self.plant.roads:
            others.discard(None)
        return len(before) > UNREAD_MOST or bool(lead is not None and others)

    def _near(self, engine: str) -> list[str]:
        """An engine alone: its train is brought up by its own evidence."""
        return [engine]

    def _same_way(self, vehicle: str, boundary: Boundary, through: bool, prior: Prior) -> bool:
        """Which way a vehicle that turns up at a boundary goes: as the last one did there, else as it could come."""
        lead = self.leader(vehicle)
        recent = [p for v, p in self.passes.items() if p.boundary == boundary.id and v != vehicle]
        if recent:
            newest = max(recent, key=lambda p: p.t)
            mate = [v for v, p in self.passes.items() if p is newest]
            if mate and (lead is None or self.leader(mate[0]) == lead or newest.t > 0):
                return newest.outward
        return through or boundary.outer in self.plant.roads

    def _regroup(self, vehicle: str, start: str, goal: str, t: float, n: int | None, prior: Prior) -> None:
        """Who goes with whom, after a read."""
        station = self.plant.station_of(goal) or self.plant.station_of(start)
        if vehicle in self.engines:
            self._forsake(vehicle, t, n, prior)
            return
        engine = self._engine_for(vehicle, start, goal, station, prior)
        if engine is None:
            return
        if goal in self.plant.sections:
            for each in self.line(goal):
                if each not in self.engines and each not in self.leads and self.changed.get(each) == t:
                    self._join(each, engine, start, t, n)
        if self.leads.get(vehicle) != engine and not (goal in self.plant.roads and self.leads.get(vehicle) is None):
            self._join(vehicle, engine, start if start in self.plant.roads else goal, t, n)

    def _engine_for(self, vehicle: str, start: str, goal: str, station: str | None, prior: Prior) -> str | None:
        lead = self.leads.get(vehicle)
        near = [e for e in sorted(self.engines) if self.place(e) in (start, goal)]
        if lead is not None and (lead in near or not near):
            return lead
        if near:
            return near[0]
        wanted = prior.wanted(vehicle)
        around = [e for e in sorted(self.engines) if self.plant.station_of(self.place(e)) == station and prior.awake(e)]
        if wanted in around:
            return wanted
        around.sort(key=lambda e: -self.awoken.get(e, -1.0))
        return around[0] if around else lead

    # --- treadles

    def _passed(self, seen: Observation, boundary: Boundary, detector: Detector, prior: Prior) -> None:
        self._stir(boundary.throat, seen.t)
        if detector.sees == "tail":
            self._tail_passed(seen, boundary)
            return
        known = (*self.passes.values(), *self.inferred.values())
        fresh = any(p.boundary == boundary.id and seen.t - p.t < FRESH_S for p in known)
        if fresh or self.active.get(boundary.id, -99.0) > seen.t - FRESH_S:
            self.active[boundary.id] = seen.t
            return
        self.active[boundary.id] = seen.t
        by = "seen" if detector.sees == "engine" else "order"
        inside = self.lines.outermost(boundary.outer, boundary.end)
        if inside is not None and self._comes_in(inside, boundary, detector.side, prior, seen.t):
            self._cross(inside, boundary, False, seen.t, seen.n, by, "treadle")
            return
        mover = choose_mover(self, boundary.outer, [boundary], prior, seen.t)
        if mover is not None and not is_doubtful(self, boundary.outer, prior, seen.t):
            self._haul(mover.vehicle, mover.way, seen.t, seen.n, by, "treadle")

    def _comes_in(self, inside: str, boundary: Boundary, side: str | None, prior: Prior, t: float) -> bool:
        """True where a treadle was passed by what stands in the section or road, on its way into the throat."""
        if self.leader(inside) is None or self._just_came(inside, boundary):
            return False
        throat_side = "down" if boundary.throat_end == 0 else "up"
        if side is not None:
            return side != throat_side  # the one that it comes to first tells whence it comes
        since = prior.occupied_since(boundary.throat)
        return since is None or t - since < AHEAD_S

    def _just_came(self, vehicle: str, boundary: Boundary) -> bool:
        """True where the vehicle came into the stretch by this boundary and its train is still following it in."""
        if self.came_by.get(vehicle) != boundary.id:
            return False
        lead = self.leader(vehicle)
        station = boundary.throat.partition(".")[0]
        return any(self.plant.station_of(self.place(v)) == station for v in self.company(lead)) if lead else False

    def _tail_passed(self, seen: Observation, boundary: Boundary) -> None:
        """The tail vehicle passed: all of its train that stood before it is over too."""
        for start, end, outward in ((boundary.outer, boundary.end, False), (boundary.throat, boundary.throat_end, True)):
            row = list(self.line(start))
            row = row if end == 0 else row[::-1]
            tails = [v for v in row if self.stock[v].tail]
            other = boundary.throat if not outward else boundary.outer
            if tails and any(self.leader(v) == self.leader(tails[0]) for v in self._beyond(other, tails[0])):
                last = self.passes.get(tails[0])
                if last is not None and last.boundary == boundary.id and seen.happened_t - last.t < 4.0:
                    return
                for each in [*self.lines.ahead(tails[0], end), tails[0]]:
                    self._cross(each, boundary, outward, seen.t, seen.n, "seen" if each == tails[0] else "order", "treadle")
                return

    def _beyond(self, stretch: str, vehicle: str) -> list[str]:
        """Vehicles on a stretch and, where it is a throat, on what lies behind it."""
        found = list(self.line(stretch))
        if stretch in self.plant.throats:
            here = self.place(vehicle)
            for boundary in self.plant.at_stretch[stretch]:
                if boundary.outer != here:
                    found += self.line(boundary.outer)
        return found

    # --- track detectors

    def _occupied(self, stretch: str, seen: Observation, prior: Prior) -> None:
        for throat in self._throats_of(stretch):
            self._stir(throat, seen.t)
        self.checks.pop(stretch, None)
        if stretch in self.plant.throats or not seen.moves or self.line(stretch):
            return
        busy = [b for b in self.plant.at_stretch[stretch] if prior.stretch_state(b.throat) == "occupied"]
        if stretch in self.plant.roads and any(self.plant.read_at(b.id) for b in self.plant.at_stretch[stretch]):
            self.waiting[stretch] = (round(seen.t + READ_S, 6), seen.n)
        elif busy and any(self.plant.read_at(b.id) for b in busy) and is_doubtful(self, stretch, prior, seen.t):
            self.waiting[stretch] = (round(seen.t + DOUBT_S, 6), seen.n)
        elif busy:
            self._come_on(stretch, seen.t, seen.n, prior)
        else:
            self.waiting[stretch] = (round(seen.t + STEADY_S, 6), seen.n)

    def _come_on(self, stretch: str, t: float, n: int | None, prior: Prior) -> None:
        """Something has come onto a stretch that was believed empty."""
        if self.line(stretch):
            return
        mover = choose_mover(self, stretch, self.plant.at_stretch[stretch], prior, t)
        if mover is None:
            return
        self._haul(mover.vehicle, mover.way, t, n, "order", "track")
        engine = self.leader(mover.vehicle)
        if engine is not None:
            self._forsake(engine, t, n, prior)

    def _cleared(self, stretch: str, t: float, n: int | None, prior: Prior) -> None:
        if stretch in self.plant.throats:
            self._follow_in(stretch, t, n)
            self._empty_throat(stretch, t, n, prior, "order")
            return
        left = [v for v in self.line(stretch) if self.stock[v].detected]
        if not left:
            return
        boundary = self._way_out(stretch, left, prior)
        if boundary is None:
            return
        end = boundary.end
        furthest = left[-1] if end == 0 else left[0]
        self._draw_with_engine(boundary, left, t, n, prior)
        for each in [*self.lines.ahead(furthest, end), furthest]:
            self._cross(each, boundary, False, t, n, "order", "track")
            lead = self.leads.get(each)
            if lead is None and each not in self.engines:
                engine = self._engine_for(each, stretch, boundary.throat, self.plant.station_of(boundary.throat), prior)
                if engine is not None:
                    self._join(each, engine, stretch, t, n)
        if prior.stretch_state(boundary.throat) == "clear":
            self._empty_throat(boundary.throat, t, n, prior, "order")
        else:
            self._stir(boundary.throat, t)

    def _follow_in(self, throat: str, t: float, n: int | None) -> None:
        """A throat is clear behind an engine that came in by it: what no reader could tell of has come in with it."""
        for boundary in self.plant.at_stretch[throat]:
            if boundary.outer not in self.plant.sections:
                continue
            row = list(self.line(boundary.outer))
            leads = {self.leads[v] for v in row if v in self.leads}
            for engine in sorted(leads):
                mine = [v for v in row if self.leads.get(v) == engine]
                came_in = self.plant.station_of(self.place(engine)) == self.plant.throats[throat].station
                if came_in and (not self.plant.read_at(boundary.id) or len(mine) <= 1):
                    for vehicle in mine if boundary.end == 0 else mine[::-1]:
                        self._cross(vehicle, boundary, False, t, n, "carried", "track")

    def _draw_with_engine(self, boundary: Boundary, left: list[str], t: float, n: int | None, prior: Prior) -> None:
        """Nothing moves by itself: where a road empties and no engine is believed there, the one beside it had come for it."""
        if any(v in self.engines for v in (*left, *self.line(boundary.throat))):
            return
        if any(self.place(self.leader(v) or v) in self.plant.sections for v in left):
            return  # its engine went ahead of it
        best: tuple[float, str, Boundary] | None = None
        for other in self.plant.at_stretch[boundary.throat]:
            lead = self.lines.outermost(other.outer, other.end)
            if other.outer == boundary.outer or lead is None or lead not in self.engines:
                continue
            value = 2.0 if any(self.leads.get(v) == lead for v in left) else 0.0
            value += 1.0 if prior.awake(lead) else -1.0
            value += 1.0 if t - self.awoken.get(lead, -1e9) < 60.0 else 0.0
            if value > 0 and (best is None or (value, lead) > best[:2]):
                best = (value, lead, other)
        if best is not None:
            self._cross(best[1], best[2], False, t, n, "order", "track")

    def _way_out(self, stretch: str, left: list[str], prior: Prior) -> Boundary | None:
        """By which boundary the last of a stretch went."""
        options = list(self.plant.at_stretch[stretch])
        if len(options) < 2:
            return options[0] if options else None
        engine = self.leader(left[0]) or self.leader(left[-1])
        gone = self.place(engine) if engine is not None else OFF

        def score(boundary: Boundary) -> tuple[float, str]:
            value = 0.0
            if gone != OFF and gone != stretch:
                way = self.lines.path(stretch, gone)
                value += 3.0 if way and way[0].id == boundary.id else 0.0
            value += 2.0 if prior.stretch_state(boundary.throat) == "occupied" else 0.0
            value += 1.0 if self.awoken.get(boundary.throat, -1e9) > self._newest(options, boundary) else 0.0
            return value, boundary.id

        return max(options, key=score)

    def _newest(self, options: list[Boundary], but: Boundary) -> float:
        return max(self.awoken.get(b.throat, -1e9) for b in options if b.id != but.id)

    def _empty_throat(self, throat: str, t: float, n: int | None, prior: Prior, by: str) -> None:
        """Nothing stands in the throat any more: put what was believed there where it can have gone."""
        for _ in range(6):
            row = [v for v in self.line(throat) if self.stock[v].detected or by == "carried"]
            if not row:
                return
            goal = choose_goal(self, throat, row, prior, t)
            if goal is None:
                return
            end = goal.throat_end
            group = row if end == 0 else row[::-1]
            lead = self.leader(group[0])
            last = group[0]
            for each in group:
                if self.leader(each) != lead:
                    break
                last = each
            for each in [*self.lines.ahead(last, end), last]:
                self._cross(each, goal, True, t, n, by, "track")
            for engine in [e for e in group if e in self.engines]:
                self._forsake(engine, t, n, prior)

    def _is_quiet(self, throat: str, t: float, prior: Prior) -> bool:
        """True where nothing can stand in a throat any more: its detector is clear or wanting, no engine is there, more of its
        train stands beside it, or it has been quiet so long that what still occupies it must be something that fouls it."""
        row = self.line(throat)
        if prior.stretch_state(throat) != "occupied" or not any(v in self.engines for v in row):
            return True
        leads = {self.leader(v) for v in row} - {None}
        roads = {b.outer for b in self.plant.at_stretch[throat] if b.outer in self.plant.roads}
        beside = len(leads) == 1 and any(self.place(v) in roads for v in self.company(leads.pop() or ""))
        return beside or t >= self.awoken.get(throat, t) + 2 * SETTLE_S - 0.001

    def _set_down(self, throat: str, t: float, prior: Prior) -> None:
        """An engine has gone from a throat on to a road, and this did not follow: it was set down on the way."""
        row = self.line(throat)
        if not row or any(v in self.engines for v in row):
            return
        if all(self.place(self.leads.get(v, v)) in self.plant.roads for v in row):
            self._empty_throat(throat, t, None, prior, "order")

    def _left_something(self, road: str, engine: str, origin: str, t: float, prior: Prior) -> None:
        """A road still says occupied although all that was believed there has gone: the engine left something there."""
        if prior.stretch_state(road) != "occupied" or self.line(road):
            return
        mine = [v for v in self.company(engine)[1:] if self.place(v) == origin]
        way = self.lines.path(origin, road)
        if not mine or not way:
            return
        toward = way[0].end if way[0].outer == origin else way[0].throat_end
        outermost = self.lines.outermost(origin, toward)
        if outermost in mine and outermost is not None and len(way) <= 2:
            self._haul(outermost, way, t, None, "order", "guess")

    # --- movements

    def _haul(self, vehicle: str, way: Sequence[Boundary], t: float, n: int | None, by: str, how: str) -> None:
        """Take a vehicle along a way, all before it pushed ahead over each boundary."""
        for boundary in way:
            outward = self.place(vehicle) == boundary.throat
            end = boundary.throat_end if outward else boundary.end
            if self.place(vehicle) not in (boundary.throat, boundary.outer):
                return
            for each in [*self.lines.ahead(vehicle, end), vehicle]:
                self._cross(each, boundary, outward, t, n, by if each == vehicle else "order", how)

    def _haul_alone(self, vehicle: str, way: Sequence[Boundary], t: float, n: int | None, by: str, how: str) -> None:
        """Take one vehicle along a way, past whatever was believed before it."""
        if not way:
            return
        last = way[-1]
        start = self.place(vehicle)
        via = [b.outer for b in way] + [b.throat for b in way]
        goal = last.throat if via.count(last.outer) + (last.outer == start) > 1 or last.outer == start else last.outer
        if goal == start:
            return
        end = last.end if goal == last.outer else last.throat_end
        self._move(vehicle, goal, 0 if end == 0 else None, t, n, by, how)
        self.came_by[vehicle] = last.id

    def _cross(self, vehicle: str, boundary: Boundary, outward: bool, t: float, n: int | None, by: str, how: str) -> None:
        start, goal = (boundary.throat, boundary.outer) if outward else (boundary.outer, boundary.throat)
        if self.place(vehicle) != start:
            return
        self.lines.cross(vehicle, boundary, outward)
        self.changed[vehicle] = t
        if how != "seen":
            self.inferred[vehicle] = Pass(boundary.id, t, outward)
        else:
            self.inferred.pop(vehicle, None)
        self.came_by[vehicle] = boundary.id
        self._mark(vehicle, by, how, n)
        self._touch_line(start)
        self._touch_line(goal)
        if vehicle in self.engines:
            self.awoken[vehicle] = t
            if start in self.plant.roads and not outward:
                self.checks[start] = (round(t + STAYED_S, 6), vehicle, self._last_road(vehicle))
        self.changes.append(Crossing(t, n, vehicle, start, goal, by))

    def _last_road(self, engine: str) -> str:
        for vehicle in self.company(engine)[1:]:
            if self.place(vehicle) in self.plant.roads:
                return self.place(vehicle)
        return OFF

    def _move(self, vehicle: str, goal: str, index: int | None, t: float, n: int | None, by: str, how: str) -> None:
        start = self.place(vehicle)
        self.lines.put(vehicle, goal, index)
        self.changed[vehicle] = t
        self._mark(vehicle, by, how, n)
        self._touch_line(start)
        self._touch_line(goal)
        if vehicle in self.engines:
            self.awoken[vehicle] = t
        if start != goal:
            self.changes.append(Crossing(t, n, vehicle, start, goal, by))

    # --- who goes with whom

    def _join(self, vehicle: str, engine: str, road: str, t: float, n: int | None) -> None:
        old = self.leads.get(vehicle)
        if old == engine or vehicle == engine:
            return
        if old is not None:
            self._leave(vehicle, old, t, n)
        self.leads[vehicle] = engine
        self.touched[vehicle] = None
        self.changes.append(Joined(t, n, vehicle, engine, road))

    def _leave(self, vehicle: str, engine: str, t: float, n: int | None) -> None:
        self.leads.pop(vehicle, None)
        self.touched[vehicle] = None
        self.changes.append(Left(t, n, vehicle, engine, self.place(vehicle)))

    def _forsake(self, engine: str, t: float, n: int | None, prior: Prior) -> None:
        """An engine is seen where some of its vehicles are not: those that were to stay, or were only shifted, have stayed."""
        here = self.place(engine)
        keep = prior.call_road(engine)
        for vehicle in self.company(engine)[1:]:
            place = self.place(vehicle)
            if place == here or place not in self.plant.roads:
                continue
            if here in self.plant.throats and self._beside(engine, vehicle):
                continue
            through = self.plant.roads[place].kind in (RoadKind.RUNNING, RoadKind.LOOP)
            if (through or place == keep) and prior.keeps(vehicle, engine, place):
                continue
            self._leave(vehicle, engine, t, n)

    def _beside(self, engine: str, vehicle: str) -> bool:
        """True where the engine may still be coupled to a vehicle that stands on a road of the throat it is in."""
        last = self.passes.get(engine)
        place = self.place(vehicle)
        mouth = {b.id for b in self.plant.at_stretch[self.place(engine)] if b.outer == place}
        return bool(mouth) and (last is None or last.boundary not in mouth or not last.outward)

    # --- bookkeeping

    def _throats_of(self, stretch: str) -> list[str]:
        return [stretch] if stretch in self.plant.throats else [b.throat for b in self.plant.at_stretch[stretch]]

    def _stir(self, throat: str, t: float) -> None:
        self.awoken[throat] = t
        self.settling[throat] = round(t + SETTLE_S, 6)

    def _mark(self, vehicle: str, by: str, how: str, n: int | None) -> None:
        self.marks[vehicle] = Mark(by, how, () if n is None else (n,))
        self.touched[vehicle] = None

    def _touch_line(self, stretch: str) -> None:
        for vehicle in self.line(stretch):
            self.touched[vehicle] = None

    def _drain(self) -> list[Change]:
        found, self.changes = self.changes, []
        return found
