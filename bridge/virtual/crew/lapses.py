"""Mistakes on the line: another road than booked, a section that is not clear, too early, divided, unproved.

Rule: a crew does what it gets wrong as far as track and vehicles let it, and puts it right afterwards where a real crew
would.
"""

from __future__ import annotations

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.mishap import Acts
from bridge.virtual.crew.occasions import Occasion
from bridge.virtual.crew.slips import Slip
from bridge.virtual.motion import scale_speed_mm_s

MINUTE_S = 60.0
SOONER_MIN = 5.0  # so long before its time a train leaves, session minutes
ON_ITS_WAY_S = 30.0  # of real time at most from setting off to being out
HELD_OUT_MIN = 5.0  # for a road that is not free it is held so long, then it goes where it is booked
CREEPS_KM_H = 20.0
DRAWS_IN_MM = 400.0
CLEAR_OF_IT_MM = 250.0  # how far beyond it the other train's tail is by then
PARTS_AT = 0.5  # how far along a section a train divides
NOTICED_S = 30.0
DIVIDED_S = 14.0  # what stays behind is told of so long after the train is out, at the latest


class WrongRoad(Slip):
    """A train comes in on another road than booked."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        (self._road,) = occasion.things
        self._since_s: float | None = None

    def next_road(self, working: Working, call: Call, road: str | None) -> str | None:
        """The wrong one, as soon as it is free."""
        book = self._book
        if not self.is_its(working, call):
            return road
        self._since_s = book.scene.now_s if self._since_s is None else self._since_s
        train_mm = sum(v.length_mm for v in book.scene.world.rake_of(working.engine).vehicles)
        if train_mm > book.ground.plant.roads[self._road].length_mm:
            return road
        if not book.ground.line(self._road) and book.is_free(self._road, working.engine):
            return self._road
        held_min = (book.scene.now_s - self._since_s) * book.scene.clock.rate / MINUTE_S
        return None if held_min < HELD_OUT_MIN else road

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """It is let in there."""
        leg = self.leg(working, call)
        if self.is_its(working, leg.then) and order.place == self._road and not self.made:
            comes = o.Condition("in", self.train(working, leg)[0], self._road)
            subject = (("train", working.id), ("road", self._road))
            yield self.expects("wrong-road", subject, o.Moment(comes), o.Moment(comes, 1.0), "wrong-road", "road-blocked")
        return False


class SectionClash(Slip):
    """A train draws out into a section behind another, which has not cleared it, and sets back."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        self._section, self._other = occasion.things

    def calls(self, working: Working, call: Call) -> Acts[None]:
        """Before anything else it follows the other train out."""
        if not self.is_its(working, call) or self.made:
            return
        book, section = self._book, self._section
        into_mm = min(DRAWS_IN_MM, book.ground.plant.sections[section].length_mm / 4)
        while not self._is_open(into_mm):
            if self._has_gone() or book.quiet_min() > HELD_OUT_MIN:
                return
            yield o.Waits(0.5)
        home = book.ground.road_of(working.engine) or call.road
        comes = o.Condition("in", self._first(working), section)
        subject = (("section", section), ("train", working.id), ("trains", f"{working.id},{self._other}"))
        gone = o.Condition("off", self._tail(), section)
        shows, due = o.Moment(comes), o.Moment(comes, 2.0)
        yield self.expects("section-clash", subject, shows, due, "no-authority", "early-departure", past=gone)
        speed = scale_speed_mm_s(CREEPS_KM_H, book.ground.plant.scale)
        self.made = (yield o.RunsTo(section, into_mm, None, speed)) is None
        if self.made:
            yield o.Waits(2.0)
            yield from self.persists(o.RunsTo(home, None, None, speed))

    def _has_gone(self) -> bool:
        """Whether the other train has been through, or will not come."""
        book = self._book
        working = book.scene.railway.workings[self._other]
        there = next((c for c in working.calls if c.station == self._occasion.station), None)
        then = working.calls[there.index + 1] if there is not None else None
        return self._other in book.ended or then is None or (self._other, then.station) in book.arrived

    def _is_open(self, into_mm: float) -> bool:
        """Whether the other is in the section on its way, and far enough from this end."""
        book = self._book
        world, now_s = book.scene.world, book.scene.now_s
        engine = book.scene.railway.workings[self._other].engine
        run = world.runs.get(world.key_of(engine))
        if run is None or book.scene.workings.get(engine) != self._other or engine not in world.on[self._section]:
            return False
        ahead = [row for row in run.rake.swept(*run.still_to_sweep(now_s)) if row[0] == self._section]
        section = book.ground.plant.sections[self._section]
        near = book.ground.plant.throats[section.from_throat].station == self._occasion.station
        gone_mm = [low if near else section.length_mm - high for _, low, high in ahead]
        return min(gone_mm, default=0.0) > into_mm + CLEAR_OF_IT_MM

    def _tail(self) -> str:
        """The last vehicle of the other train, which runs: once that is out there is no clash to tell of."""
        scene = self._book.scene
        run = scene.world.runs[scene.world.key_of(scene.railway.workings[self._other].engine)]
        return run.rake.ids[0]

    def _first(self, working: Working) -> str:
        """The vehicle of its train that is nearest to the section."""
        ground = self._book.ground
        section = ground.plant.sections[self._section]
        near = next(t for t in section.throats if ground.plant.throats[t].station == self._occasion.station)
        ids = ground.world.rake_of(working.engine).ids
        road = ground.road_of(working.engine) or ""
        return next((v for v in ground.stack(road, near.rpartition(".")[2]) if v in ids), working.engine)


class EarlyDeparture(Slip):
    """A train leaves minutes before its time, and waits for nobody."""

    def _sooner_s(self) -> float:
        rate = self._book.scene.clock.rate
        return max(SOONER_MIN * MINUTE_S, MINUTE_S + 1.5 * ON_ITS_WAY_S * rate)

    def departs_s(self, working: Working, call: Call) -> float | None:
        """Sooner than booked."""
        early = self.is_its(working, call) and call.depart_s is not None
        return call.depart_s - self._sooner_s() if early and call.depart_s is not None else call.depart_s

    def waits_for(self, working: Working, call: Call) -> tuple[str, ...]:
        """Nobody."""
        return () if self.is_its(working, call) else call.wait_for

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """Too early, if it is so still."""
        book = self._book
        if self.is_its(working, call) and not self.made:
            out_by_s = book.scene.clock.shows(book.scene.now_s) + ON_ITS_WAY_S * book.scene.clock.rate
            too_soon = call.depart_s is not None and out_by_s < call.depart_s - MINUTE_S
            if too_soon or any((other, call.station) not in book.arrived for other in call.wait_for):
                yield self.on_departure(working, call, "early-departure", (("train", working.id),))
        return False


class Divided(Slip):
    """A train loses its last vehicles in a section, and goes back for them."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        self._lost: tuple[str, ...] = ()

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """Halfway, the rear stays behind."""
        leg = self.leg(working, call)
        train, section = self.train(working, leg), leg.section
        if not self.is_its(working, call) or self.made or working.engine in train[2:] or len(train) < 3:
            return False
        tail = train[-2:] if len(train) > 3 else train[-1:]
        speed, into_mm = order.speed_mm_s, section.length_mm * PARTS_AT
        if (yield o.RunsTo(section.id, into_mm, None, speed, departs=True)) is not None:
            return False
        if (yield o.Leaves(tail)) is not None:
            return False
        out = o.Condition("off", train[-len(tail) - 1], section.id)
        subject = (("section", section.id), ("train", working.id))
        may_follow = ("unexplained-occupation", "wagon-lost", "overdue", "section-clash", "no-authority")
        yield self.expects("train-divided", subject, o.Moment(out), o.Moment(out, DIVIDED_S), *may_follow)
        self._lost = tail
        return (yield from self.persists(order))

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """It is noticed, and fetched."""
        if not self._lost or call.index != self._occasion.call + 1 or working.id != self._occasion.working:
            return
        yield o.Waits(NOTICED_S)
        road = self._book.ground.road_of(working.engine) or call.road
        if (yield from self.persists(o.Couples(self._lost[0]))):
            yield from self.persists(o.RunsTo(road))
        else:
            self._book.reason(working.id, None, f"{self._lost[0]} stayed behind on the way to {call.station}")


class BridgeOpen(Slip):
    """A train sets off while what it goes over is not proved."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        (self._proof,) = occasion.things

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """Unlocked, and off."""
        if self.is_its(working, call) and not self.made:
            leg, plant = self.leg(working, call), self._book.ground.plant
            guards = plant.detectors[self._proof].guards or leg.section.id
            kind = "road" if guards in plant.roads else "section" if guards in plant.sections else "throat"
            first = self.train(working, leg)[0]
            subject = ((kind, guards), ("train", working.id), ("detector", self._proof))
            enters = o.Condition("in", first, leg.section.id)
            mouth = f"{leg.call.road}@{plant.throats[leg.out].end}"
            told = plant.covering.get(leg.out) or plant.standing_at.get(mouth)
            leaves = o.Condition("in", first, leg.out) if told else enters
            yield self.expects("not-proved", subject, o.Moment(leaves), o.Moment(enters, 1.0))
            yield o.Switches(self._proof, False)
            yield o.Waits(3.0)
        return False

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """Locked again."""
        if self.made and (working.id, call.index) == (self._occasion.working, self._occasion.call + 1):
            yield o.Switches(self._proof, True)
