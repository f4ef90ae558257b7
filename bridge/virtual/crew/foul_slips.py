"""Mistakes that leave a wagon hanging out of its siding: one more than it holds, or one not pushed in far enough.

Rule: it hangs out by less than it takes to hold others up, so the evening goes on past it; that it does is written down when
the train is back together, for only then could anybody tell it from shunting.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.lists import Job
from bridge.virtual.crew.mishap import Acts
from bridge.virtual.crew.occasions import Occasion, leg_of
from bridge.virtual.crew.slips import Slip, WrongSiding
from bridge.virtual.truth import Watched
from bridge.virtual.world import GAP_MM

SAID_S = 2.0
HANGS_OUT_MM = 35.0
STOOD_S = 60.0  # what is in the way is a caution once it has stood there so long: somebody may be about to take it away


class Overfull(WrongSiding):
    """A wagon is pushed into a siding that is full, and hangs out of it."""

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """To the full siding; whoever is back at the train could see that it is too full."""
        believed = super().tasks(working, call, jobs)
        if self.is_its(working, call) and not self.made and self._is_too_full():
            self._write_down()
        return believed

    def room_mm(self, road: str, room_mm: float) -> float:
        """One more than there is room for will fit."""
        book = self._book
        working = book.scene.railway.workings[self._occasion.working]
        at_work = book.scene.workings.get(working.engine) == working.id
        return room_mm + book.scene.railway.stock[self._vehicle].length_mm * (road == self._road and at_work)

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """That it stands in the wrong one besides follows from it."""
        yield from ()
        return False

    def _is_too_full(self) -> bool:
        world = self._book.scene.world
        there = world.standing_on(self._road)
        stock = self._book.scene.railway.stock
        full = sum(stock[v].length_mm for v in there) > world.track.length_mm(self._road)
        return full and not any(stock[v].kind == "engine" for v in there) and self._vehicle in there

    def _write_down(self) -> None:
        """It was so from when the last came in; all that tells of what went in tells of it."""
        scene, plant = self._book.scene, self._book.ground.plant
        road = plant.roads[self._road]
        fouls = (*road.fouls, *(f"{road.station}.{end}" for end in road.open))
        subject = (("road", road.id), ("fouls", ",".join(fouls)))
        so = o.Moment(o.Condition("always"))
        expectation = o.Expectation("overfull-road", subject, so, so, ("wagon-misplaced", "road-blocked"))
        came_s = max(t_s for t_s, _, way, where in scene.truth.movement if way == "in" and where == road.id)
        mouths = [d.id for end in road.open for d in plant.standing_at.get(f"{road.id}@{end}", ())]
        covering = [d.id for d in plant.covering.get(road.id, ())]
        watched = Watched(expectation, came_s, scene.now_s + SAID_S, (*covering, *mouths))
        scene.truth.watched.append(watched)
        self.made = True


class LeftFoul(Slip):
    """What is set out in a siding is not pushed in far enough."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        self._vehicle, self._road, self._other, self._booked = occasion.things
        self._left = ""

    def hangs_out_mm(self, road: str, group: Sequence[str]) -> float:
        """A little, where nothing stands so near the mouth that it would be run into."""
        book, ground = self._book, self._book.ground
        working = book.scene.railway.workings[self._occasion.working]
        if road != self._road or self._vehicle not in group or book.scene.workings.get(working.engine) != working.id:
            return 0.0
        group_mm = sum(book.scene.railway.stock[vehicle].length_mm for vehicle in group)
        (end,) = ground.plant.roads[road].open
        mine = ground.world.rake_of(working.engine).ids
        depths = [ground.depth_mm(road, end, spot)[0] for spot in ground.line(road) if spot.vehicle not in mine]
        if min(depths, default=ground.world.track.length_mm(road)) - GAP_MM < group_mm - HANGS_OUT_MM:
            return 0.0
        self._left = group[0]
        return HANGS_OUT_MM

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """As they are; whoever is back at the train could see what is left in the way."""
        if self.is_its(working, call) and not self.made and self._left:
            self._look(working)
        return jobs

    def _look(self, working: Working) -> None:
        """Written down once nothing else is in the throat; it is due when the train that it fouls departs for here, and it
        has stood so for a while, unless that has come in by then."""
        scene, plant = self._book.scene, self._book.ground.plant
        (end,) = plant.roads[self._road].open
        throat = f"{self._occasion.station}.{end}"
        if (self._other, self._occasion.station) in self._book.arrived:
            return  # it has come already, and is in nobody's way
        hanging = [v for v in scene.world.on[throat] if self._road in scene.world.places_of(v)]
        if self._left not in hanging or set(scene.world.on[throat]) & set(scene.world.rake_of(working.engine).ids):
            return
        other = scene.railway.workings[self._other]
        came = next(c for c in other.calls if c.road == self._booked)
        before = leg_of(scene.railway, other, other.calls[came.index - 1])
        assert before is not None
        came_in = o.Condition("in", other.engine, self._booked)
        so, comes = o.Moment(o.Condition("always")), o.Condition("in", other.engine, before.section.id)
        subject = (("train", self._other), ("road", self._booked))
        expectation = o.Expectation("road-blocked", subject, so, o.Moment(comes, SAID_S), stands_s=STOOD_S, past=came_in)
        by = tuple(detector.id for detector in plant.covering[throat])
        scene.truth.watched.append(Watched(expectation, scene.now_s, None, by))
        self.made = True
