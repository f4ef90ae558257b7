"""A crew's whole evening: its engine's workings one after another, each as far as it can be worked.

Rule: whatever cannot be done ends that working with the reason, never the evening of the others.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Working
from bridge.virtual import orders as o
from bridge.virtual.crew.calling import Calling
from bridge.virtual.crew.driving import Driving
from bridge.virtual.crew.post import Doing, Post, Refusal
from bridge.virtual.crew.round import pick_neck
from bridge.virtual.crew.shunting import stand_clear
from bridge.virtual.crew.stacks import CannotError


class PlannedCrew:
    """The crew of an engine that works by the folder's plan."""

    def __init__(self, post: Post, workings: Sequence[Working]) -> None:
        self.post, self.name = post, post.engine
        self.engine: str | None = post.engine
        self._evening = _evening(post, workings)
        self._answer: Refusal | None = None
        self._begun = False

    def next_order(self) -> tuple[o.Order, str] | None:
        """What the crew does next, having looked at the railway as it is now."""
        answer, self._answer = self._answer, None
        try:
            order = self._evening.send(answer) if self._begun else next(self._evening)
        except StopIteration:
            return None
        self._begun = True
        return order, f"crew {self.name}"

    def refused(self, reason: str, by: str, passing: bool) -> None:
        """The last order could not be done."""
        self._answer = Refusal(reason, by, passing)


def _evening(post: Post, workings: Sequence[Working]) -> Doing[None]:
    book = post.book
    for working in workings:
        post.working = working
        try:
            yield from _working(post, working)
        except CannotError as error:
            book.reason(working.id, None, str(error))
            book.wants_no_more(post.engine)
        yield o.Ends()
        if why := post.mishap.ended(working):
            book.reason(working.id, None, why)
        road = post.ground.road_of(post.engine)
        post.keeps_only(*([road] if road is not None else []))
        book.ended.add(working.id)
        book.stirred()
    post.working = None
    book.at_work.discard(post.engine)


def _working(post: Post, working: Working) -> Doing[None]:
    first = working.calls[0]
    post.book.due_out[post.engine] = first.depart_s
    yield from _to_the_train(post, working)
    yield o.Works(working.id)
    post.book.arrived.add((working.id, first.station))
    missing = [vehicle for vehicle in working.rake if vehicle not in post.train]
    yield from Calling(post, working, first, missing).work()
    for vehicle in working.rake:
        if vehicle in missing and vehicle not in post.train:
            post.book.reason(working.id, vehicle, f"it was not to be had at {first.station}")
    for call, then in zip(working.calls, working.calls[1:], strict=False):
        yield from Driving(post, working, call, then).drive()
        post.book.due_out[post.engine] = then.depart_s
        yield from Calling(post, working, then).work()


def _to_the_train(post: Post, working: Working) -> Doing[None]:
    """The engine to the road of its first call, coupled to what of its rake stands there."""
    first = working.calls[0]
    here = post.road()
    if post.ground.plant.roads[here].station != first.station:
        raise CannotError(f"{post.engine} stands on {here}, and {working.id} begins at {first.station}")
    yield from _leave_all_but(post, working.rake)
    if here != first.road and not set(post.train) & set(working.rake):
        yield from _across(post, here, first.road)
    yield from _couple_up(post, working.rake)


def _leave_all_but(post: Post, rake: Sequence[str]) -> Doing[None]:
    """Uncouple what is not in the rake, as far as it stands behind what is."""
    train = post.train
    kept = max((n for n, vehicle in enumerate(train, 1) if vehicle in rake), default=0)
    if train[kept:]:
        yield from post.must(o.Leaves(train[kept:]))


def _across(post: Post, here: str, road: str) -> Doing[None]:
    """The engine from one road to another at the same station."""
    plant = post.ground.plant
    station = plant.roads[road].station
    both = [
        end
        for end in plant.roads[here].open
        if end in plant.roads[road].open and post.ground.stack(here, end)[0] in (post.engine, *post.train)
    ]
    if not both:
        raise CannotError(f"from {here} no way leads to {road} without going round")
    throat = plant.throats[f"{station}.{both[0]}"]
    neck = pick_neck(post, throat, (here, road), post.length_mm((post.engine, *post.train)))
    if neck is None:
        raise CannotError(f"{throat.id} has no room for {post.engine}")
    things = {throat.id, here, road, *([neck.section] if neck.section else [])}
    yield from post.claims(things, f"{road} is not free")
    speed = post.shunting_mm_s()
    yield from post.must(o.DrawsClear(neck.place, None, speed))
    stack = post.ground.stack(road, both[0])
    yield from post.must(o.Couples(stack[0], None, speed) if stack else o.RunsTo(road, None, None, speed))
    post.keeps_only(road)


def _couple_up(post: Post, rake: Sequence[str]) -> Doing[None]:
    """Couple to what of the rake stands next to the engine on its road."""
    for _ in rake:
        road = post.road()
        line = [spot.vehicle for spot in post.ground.line(road)]
        mine = {post.engine, *post.train}
        places = [n for n, vehicle in enumerate(line) if vehicle in mine]
        beside = [line[n] for n in (places[0] - 1, places[-1] + 1) if 0 <= n < len(line)] if places else []
        wanted = next((vehicle for vehicle in beside if vehicle in rake), None)
        if wanted is None:
            break
        yield from post.must(o.Couples(wanted, None, post.shunting_mm_s()))
    yield from stand_clear(post)
