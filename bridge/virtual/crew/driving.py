"""From one call to the next: the time, whom it waits for, the section, its token, a road to come in on, and off.

Rule: a train sets off only when everything as far as its next road is its own, so it never stands in a section waiting.
"""

from __future__ import annotations

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew import authority
from bridge.virtual.crew.book import Trip, trip_of
from bridge.virtual.crew.calling import Calling
from bridge.virtual.crew.coming_in import ComingIn, throats
from bridge.virtual.crew.ground import OTHER
from bridge.virtual.crew.post import Doing, Post
from bridge.virtual.crew.round import could_ever, run_round
from bridge.virtual.crew.stacks import CannotError
from bridge.virtual.motion import scale_speed_mm_s

FASTER = 1.5  # to keep time a train runs at most so many times as fast as it likes to
PULLS_AWAY_S = 8.0  # of a booked running, so much goes in setting the road and starting


class Driving:
    """One crew's run from a call to the next."""

    def __init__(self, post: Post, working: Working, call: Call, then: Call) -> None:
        section = post.ground.plant.section_between(call.station, then.station)
        if section is None:
            raise CannotError(f"no section leads from {call.station} to {then.station}")
        self._post, self._working, self._call, self._then, self._section = post, working, call, then, section
        self._out, self._in = throats(post, section, call.station)
        self._coming_in = ComingIn(post, working, then, section, self._in)
        self._how: str | None = None  # how it has the authority for the section, once it has it

    def drive(self) -> Doing[None]:
        """Wait for everything, run, and be there."""
        post = self._post
        yield from self._face_the_way()
        yield from post.until_clock(post.mishap.departs_s(self._working, self._call))
        try:
            yield from self._go()
        except CannotError:
            if self._how is not None:
                yield from authority.give_up(post, self._section.id, self._call.station, self._how)
            raise

    def _go(self) -> Doing[None]:
        post = self._post
        began_s = post.scene.now_s
        while True:
            why_not = self._why_not()
            if not why_not:
                waited_s = (post.scene.now_s - began_s) * post.scene.clock.rate
                found, why_not = self._coming_in.road(waited_s)
                road = post.mishap.next_road(self._working, self._then, found)
                if road is not None and (yield from self._run(road)):
                    break
            yield from post.waits(why_not or f"the way to {self._then.station} is not free")

    def _face_the_way(self) -> Doing[None]:
        """The engine to the end at which the train leaves; where it cannot get there, it propels.

        Where it could not run round at the next call for the sidings there, it propels too.
        """
        post, road = self._post, self._post.road()
        end = self._out.rpartition(".")[2]
        if end not in post.ground.plant.roads[road].open or not post.world.track.reaches(road, self._section.id):
            raise CannotError(f"from {road} no way leads into {self._section.id}")
        wanted = OTHER[end] if self._wants_to_propel() else end
        if post.ground.end_of_engine(post.engine, road) in (wanted, None):
            return
        try:
            yield from run_round(post)
        except CannotError:
            if post.ground.end_of_engine(post.engine, road) is None:
                raise  # it has left its train and does not get back to it

    def _wants_to_propel(self) -> bool:
        """Whether there is more to shunt at the next call with the engine behind, and no running round there."""
        post, road = self._post, self._then.road
        if could_ever(post, road):
            return False
        at_next = Calling(post, self._working, self._then)
        jobs = [job for job in at_next.booked() if not at_next.trails_later(job)]
        opened = [post.ground.plant.roads[job.from_road or job.to_road or road].open for job in jobs]
        near = self._in.rpartition(".")[2]
        return sum(ends == (near,) for ends in opened) > sum(ends == (OTHER[near],) for ends in opened)

    def _why_not(self) -> str:
        """Why the train may not go yet."""
        post = self._post
        for other in post.mishap.waits_for(self._working, self._call):
            if (other, self._call.station) not in post.book.arrived and self._will_come(other):
                return f"{other} has not come to {self._call.station}"
        standing = next(iter(post.world.on[self._section.id]), None)
        if standing is not None and standing not in (post.engine, *post.train):
            return f"{standing} is in {self._section.id}"
        return "" if self._how is not None else authority.why_not(post, self._section.id, self._call.station)

    def _will_come(self, other: str) -> bool:
        """Whether a working can still come here: nobody waits for one whose crew has gone home."""
        return other not in self._post.book.ended

    def _run(self, road: str) -> Doing[bool]:
        """Claim everything and go; whether the train has come there."""
        post, book, section = self._post, self._post.book, self._section.id
        here = post.road()
        trip = trip_of(post.scene.railway, self._working, self._call.index)
        order = o.RunsTo(road, None, section, self._speed_mm_s(road))  # where two lie side by side, by the right one
        if not post.could(order) or not book.claim(post.engine, {section, self._out, self._in, here, road}):
            return False
        if self._how is None:
            self._how = yield from self._authority(trip)
        book.sets_off(post.engine, {section, self._out})
        own_way = yield from post.mishap.sets_off(self._working, self._call, order)
        refusal = None if own_way else (yield from post.does(order))
        if refusal is not None:
            book.keeps_only(post.engine, {here})
            if not refusal.passing and not post.will_go(refusal.by):
                raise CannotError(refusal.reason)
            return False
        if trip is not None:
            book.made(trip)
        if road != self._then.road:
            why = f"for {self._coming_in.why}" if self._coming_in.why else "by mistake"
            book.reason(self._working.id, None, f"came in on {road}, {why}")
        book.arrived.add((self._working.id, self._then.station))
        yield from post.mishap.has_come(self._working, self._then)
        if post.mishap.lays_token(self._working, self._then, section):
            yield from authority.give_up(post, section, self._then.station, self._how)
        self._how = None
        post.keeps_only(post.road())
        return True

    def _authority(self, trip: Trip | None) -> Doing[str]:
        """Get the authority for the section; how."""
        post, section = self._post, self._section.id
        if not post.mishap.takes_token(self._working, self._call, section):
            return ""
        return (yield from authority.take(post, section, self._call.station, trip))

    def _speed_mm_s(self, road: str) -> float:
        """As fast as the crew likes, faster where the timetable asks for it."""
        post, track = self._post, self._post.world.track
        manner = post.manner
        km_h = manner.passenger_km_h if self._working.kind == "passenger" else manner.goods_km_h
        likes = scale_speed_mm_s(km_h, post.ground.plant.scale)
        if self._then.arrive_s is None:
            return likes
        left_s = (self._then.arrive_s - post.scene.clock.shows(post.scene.now_s)) / post.scene.clock.rate - PULLS_AWAY_S
        way_mm = self._section.length_mm + sum(track.length_mm(s) for s in (self._out, self._in, road))
        asked = way_mm / left_s if left_s > 1.0 else likes * FASTER
        return min(max(likes, asked), likes * FASTER)
