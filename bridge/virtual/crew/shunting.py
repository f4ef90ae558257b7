"""A pass carried out: drawing out, setting back, coupling block by block, and home to the train.

Rule: before a pass everything it touches is claimed, and given back after it. What had been worked out on paper is looked
at again at each step, for blocks stand a little apart and a siding may have to be pushed together.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.virtual import orders as o
from bridge.virtual.crew.ground import Neck, Spot
from bridge.virtual.crew.post import Doing, Post
from bridge.virtual.crew.stacks import CannotError, Step
from bridge.virtual.world import GAP_MM

INSIDE_MM = 12.0  # what is set back stands at least so far inside the road
TIGHT_MM = 1.0


class Shunter:
    """One crew's shunting at one end of a station, out to one neck."""

    def __init__(self, post: Post, end: str, neck: Neck, home: str, train: Sequence[str]) -> None:
        self._post, self._end, self._neck, self._home = post, end, neck, home
        self._train = frozenset(train)  # what belongs to the train now, or is to
        self._speed = post.shunting_mm_s()

    def work(self, steps: Sequence[Step], train_road: str) -> Doing[None]:
        """Do the steps, beginning and ending coupled to the train."""
        if not steps:
            return
        if steps[0].road != train_road:
            yield from self._leave(self._post.train)
            yield from self._draw_out()
        for n, step in enumerate(steps):
            onward = steps[n + 1] if n + 1 < len(steps) else None
            is_home = onward is None and step.road == self._home
            if step.pull:
                yield from self._pull(step, kept=0 if n == 0 and step.road == train_road else len(self._post.train))
            else:
                yield from self._push(step, stays=is_home)
            if not is_home and (onward is None or not (onward.pull and onward.road == step.road)):
                yield from self._draw_out()
        yield from self.go_home()

    def _draw_out(self) -> Doing[None]:
        yield from self._post.must(o.DrawsClear(self._neck.place, None, self._speed))

    def _leave(self, vehicles: Sequence[str]) -> Doing[None]:
        if vehicles:
            yield from self._post.must(o.Leaves(tuple(vehicles)))
            road = self._post.ground.road_of(vehicles[0])
            for vehicle in vehicles:
                self._post.lists.note_done(vehicle, road or "")

    def _pull(self, step: Step, kept: int) -> Doing[None]:
        """Take the nearest of a road, beside so many that are coupled to the engine already; the rest is left."""
        wanted = kept + step.count
        while len(self._post.train) < wanted:
            nearest = self._nearest(step.road)
            if nearest is None:
                raise CannotError(f"on {step.road} stands less than was thought")
            yield from self._post.must(o.Couples(nearest, None, self._speed))
        yield from self._leave(self._post.train[wanted:])

    def _nearest(self, road: str) -> str | None:
        """The first vehicle on a road that is not coupled to the engine."""
        mine = {self._post.engine, *self._post.train}
        return next((v for v in self._post.ground.stack(road, self._end) if v not in mine), None)

    def _push(self, step: Step, stays: bool) -> Doing[None]:
        """Set the last of the rake back onto a road, clear of its mouth, and leave them there unless the engine stays."""
        group = self._post.train[-step.count :]
        nearest = self._nearest(step.road)
        if nearest is not None and self._may_couple(step.road, nearest):
            yield from self._post.must(o.Couples(nearest, None, self._speed))
        elif nearest is not None:
            yield from self._post.must(o.RunsTo(step.road, None, None, self._speed))
        else:
            yield from self._post.must(o.RunsTo(step.road, self._deep_mm(step.road, group), None, self._speed))
        yield from self.sink(step.road, group)
        coupled = self._post.train
        if not stays:
            yield from self._leave(coupled[coupled.index(group[0]) :])

    def _may_couple(self, road: str, nearest: str) -> bool:
        return road != self._home or nearest in self._train

    def _deep_mm(self, road: str, group: Sequence[str]) -> float:
        """How far in the leading end of the first vehicles on an empty road is brought."""
        post, length_mm = self._post, self._post.world.track.length_mm(road)
        group_mm = post.length_mm(group)
        if road == self._home:
            group_mm = post.length_mm((post.engine, *self._train))
        wanted_mm = length_mm - post.manner.short_of_buffers_mm
        if len(post.ground.plant.roads[road].open) > 1:
            wanted_mm = min(wanted_mm, (length_mm + group_mm) / 2)
        return min(max(wanted_mm, min(group_mm + INSIDE_MM, length_mm - TIGHT_MM), post.length_mm(group)), length_mm)

    def sink(self, road: str, vehicles: Sequence[str]) -> Doing[None]:
        """Set back further where these hang out of the road, pushing together what stands there."""
        for _ in range(20):
            spots = self._spots(road)
            out_mm = self._hangs_out_mm(road, vehicles, spots)
            if out_mm <= 0.0:
                return
            mine = self._post.world.key_of(self._post.engine)
            far_mm = max(self._depth(road, spot)[1] for spot in spots if spot.rake == mine)
            beyond = [self._depth(road, spot)[0] for spot in spots if spot.rake != mine]
            beyond = [mm for mm in beyond if mm > far_mm - 1e-3]
            length_mm = self._post.world.track.length_mm(road)
            if beyond and min(beyond) - GAP_MM < far_mm + out_mm:
                yield from self._post.must(o.Couples(self._next_beyond(road, min(beyond)), None, self._speed))
                continue
            into_mm = min(far_mm + out_mm, length_mm)
            if into_mm <= far_mm + 0.5:
                return  # no further: it is full
            yield from self._post.must(o.RunsTo(road, into_mm, None, self._speed))

    def _hangs_out_mm(self, road: str, vehicles: Sequence[str], spots: Sequence[Spot]) -> float:
        """By how much the nearest of these has to go in to be clear of the mouth."""
        post = self._post
        inside_mm = sum(spot.high_mm - spot.low_mm for spot in spots if spot.vehicle in vehicles)
        outside_mm = post.length_mm(vehicles) - inside_mm
        if outside_mm > 1e-3:
            return outside_mm + INSIDE_MM
        return 0.0

    def _spots(self, road: str) -> list[Spot]:
        return self._post.ground.line(road)

    def _depth(self, road: str, spot: Spot) -> tuple[float, float]:
        return self._post.ground.depth_mm(road, self._end, spot)

    def _next_beyond(self, road: str, near_mm: float) -> str:
        return next(s.vehicle for s in self._spots(road) if abs(self._depth(road, s)[0] - near_mm) < 1e-6)

    def go_home(self) -> Doing[None]:
        """To the train, couple, and stand clear of the throat where there is room."""
        post = self._post
        nearest = self._nearest(self._home)
        if nearest is not None and nearest in self._train:
            yield from post.must(o.Couples(nearest, None, self._speed))
        elif post.world.places_of(post.engine)[0] != self._home:
            yield from post.must(o.RunsTo(self._home, None, None, self._speed))
        yield from self.sink(self._home, (post.engine, *post.train))
