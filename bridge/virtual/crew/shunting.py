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
PUSHES = 20  # so many blocks at most are pushed together


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
        post = self._post
        if any(place in post.ground.plant.roads for place, _, _ in post.world.rake_of(post.engine).pieces()):
            yield from post.must(o.DrawsClear(self._neck.place, None, self._speed))

    def _leave(self, vehicles: Sequence[str]) -> Doing[None]:
        if vehicles:
            yield from self._post.must(o.Leaves(tuple(vehicles)))

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
        nearest, out_mm = self._nearest(step.road), self._post.mishap.hangs_out_mm(step.road, group)
        if out_mm:
            yield from self._post.must(o.RunsTo(step.road, self._post.length_mm(group) - out_mm, None, self._speed))
        elif nearest is not None and self._may_couple(step.road, nearest):
            yield from self._post.must(o.Couples(nearest, None, self._speed))
        elif nearest is not None:
            yield from self._post.must(o.RunsTo(step.road, None, None, self._speed))
        else:
            yield from self._post.must(o.RunsTo(step.road, self._deep_mm(step.road, group), None, self._speed))
        if not out_mm:
            yield from sink(self._post, step.road, self._end, group)
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

    def go_home(self) -> Doing[None]:
        """To the train, couple, and stand clear of the throat where there is room."""
        post = self._post
        nearest = self._nearest(self._home)
        if nearest is not None and nearest in self._train:
            yield from post.must(o.Couples(nearest, None, self._speed))
        elif post.world.places_of(post.engine)[0] != self._home:
            yield from post.must(o.RunsTo(self._home, None, None, self._speed))
        yield from stand_clear(post)


def stand_clear(post: Post) -> Doing[None]:
    """Bring the whole train inside its road, as far as there is room."""
    road = post.ground.road_of(post.engine)
    if road is None:
        return
    station = road.partition(".")[0]
    for end in post.ground.plant.roads[road].open:
        vehicles = (post.engine, *post.train)
        if any(f"{station}.{end}" in post.world.places_of(vehicle) for vehicle in vehicles):
            yield from sink(post, road, end, vehicles, pushes=False)


def sink(post: Post, road: str, end: str, vehicles: Sequence[str], *, pushes: bool = True) -> Doing[None]:
    """Go further in where these hang out of a road at one end; `pushes`: pushing together what stands there."""
    depth = post.ground.depth_mm
    length_mm = post.world.track.length_mm(road)
    for _ in range(PUSHES):
        spots = post.ground.line(road)
        inside_mm = sum(spot.high_mm - spot.low_mm for spot in spots if spot.vehicle in vehicles)
        out_mm = post.length_mm(vehicles) - inside_mm
        mine = [spot for spot in spots if spot.rake == post.world.key_of(post.engine)]
        if out_mm <= 1e-3 or not mine:
            return
        far_mm = max(depth(road, end, spot)[1] for spot in mine)
        into_mm = min(far_mm + out_mm + INSIDE_MM, length_mm)
        beyond = [spot for spot in spots if spot not in mine and depth(road, end, spot)[0] > far_mm - 1e-3]
        nearest = min(beyond, key=lambda spot: depth(road, end, spot)[0], default=None)
        if nearest is not None and depth(road, end, nearest)[0] - GAP_MM < into_mm:
            if pushes and _may_push(post, nearest):
                yield from post.must(o.Couples(nearest.vehicle, None, post.shunting_mm_s()))
                continue
            into_mm = depth(road, end, nearest)[0] - GAP_MM
        if into_mm > far_mm + 0.5:
            yield from post.must(o.RunsTo(road, into_mm, None, post.shunting_mm_s()))
        else:
            return


def _may_push(post: Post, spot: Spot) -> bool:
    """Whether what stands in the way is wagons that nobody is at work with."""
    stock = post.scene.railway.stock
    return all(stock[vehicle].kind != "engine" for vehicle in post.world.rakes[spot.rake].ids)
