"""Which neck a pass is worked from, and what of the jobs it does: everything that it touches claimed before it begins.

Rule: a neck is used for the jobs whose sidings reach it. Of several the one is taken with which most is done, then that with
the fewest movements; what one neck is too short for may be done from another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.virtual.crew.ground import Neck
from bridge.virtual.crew.lists import Job
from bridge.virtual.crew.passes import Onward, Planned, Wish, plan
from bridge.virtual.crew.post import Doing, PatienceError, Post
from bridge.virtual.crew.round import can_have, may_have
from bridge.virtual.crew.stacks import Yard

TRAIN = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A pass worked out for one neck."""

    neck: Neck
    wish: Wish
    planned: Planned

    @property
    def things(self) -> set[str]:
        """What has to be claimed for it, beside a section that is its neck."""
        roads = {step.road for step in self.planned.steps}
        return {self.neck.throat, self.wish.train_road, self.wish.home, *roads}

    @property
    def cost(self) -> tuple[int, int, bool]:
        """The less the better."""
        return -len(self.planned.goes), len(self.planned.steps), self.neck.section is not None


class Choosing:
    """One choice at one end of a station; `onward`: what the train is to fit on later.

    `hopeless`: vehicles that nothing can be done for, each with the reason.
    """

    def __init__(self, post: Post, station: str, end: str, onward: tuple[Onward, ...]) -> None:
        self._post, self._station, self._end, self._onward = post, station, end, onward
        self._open_here = post.ground.roads_at(station, end)
        self._at_once = False  # only what can be had without waiting
        self.hopeless: dict[str, str] = {}

    def choose(self, jobs: list[Job]) -> Doing[Choice | None]:
        """The best way to do most of these, with everything it touches claimed; None where nothing can be done.

        Raises `PatienceError` where what it would take does not come free, and nothing less can be done either.
        """
        try:
            return (yield from self._wait_for(jobs))
        except PatienceError:
            self._at_once = True
            choice = self._best([job for job in self._without_taken(jobs) if self._is_free_now(job)])
            if choice is None or not self._claims(choice):
                raise
            return choice

    def _wait_for(self, jobs: list[Job]) -> Doing[Choice | None]:
        post = self._post
        while True:
            jobs = self._without_taken(jobs)
            now = [job for job in jobs if self._is_free_now(job)]
            if jobs and not now:
                why = f"{jobs[0].from_road or jobs[0].to_road} is not free for shunting"
            else:
                choice = self._best(now)
                if choice is None or self._claims(choice):
                    return choice
                why = f"{self._station}.{self._end} is not free for shunting"
            yield from post.waits(why, post.manner.shunts_later_min)

    def _claims(self, choice: Choice) -> bool:
        section = choice.neck.section
        if section is None:
            return self._post.book.claim(self._post.engine, choice.things)
        if not can_have(self._post, section, self._station):
            return False
        return self._post.book.claim(self._post.engine, {*choice.things, section})

    # -- which jobs ------------------------------------------------------------------------------------------------

    def _without_taken(self, jobs: list[Job]) -> list[Job]:
        """The jobs without those on roads where a train stands that will not go."""
        post = self._post
        for job in jobs:
            for road in self._roads(job):
                there = [spot.vehicle for spot in post.ground.line(road)]
                taken = road != post.road() and post.ground.engine_on(road, post.engine)
                if taken and not any(self._is_gone_soon(vehicle, road) for vehicle in there):
                    self.hopeless[job.vehicle] = f"{road} is taken by {there[0]}, which does not go soon"
        return [job for job in jobs if job.vehicle not in self.hopeless]

    def _is_gone_soon(self, vehicle: str, road: str) -> bool:
        """Whether a train will leave a road in time; one that is on a road where none is booked only shunts there."""
        workings = self._post.scene.railway.workings.values()
        is_booked = any(call.road == road for working in workings for call in working.calls)
        return self._post.goes_soon(vehicle) or (not is_booked and self._post.will_go(vehicle))

    def _is_free_now(self, job: Job) -> bool:
        """Whether no other train is on the roads of a job, or at work there."""
        post = self._post
        roads = [road for road in self._roads(job) if road != post.road()]
        return all(post.book.is_free(road, post.engine) and not post.ground.engine_on(road, post.engine) for road in roads)

    def _roads(self, job: Job) -> list[str]:
        return [road for road in (job.from_road, job.to_road) if road in self._open_here]

    # -- which neck ------------------------------------------------------------------------------------------------

    def _best(self, jobs: list[Job]) -> Choice | None:
        post, road = self._post, self._post.road()
        choices: list[Choice] = []
        why: dict[str, str] = {}
        for neck in post.ground.necks(f"{self._station}.{self._end}", (road,)):
            reached = [job for job in jobs if self._reaches(neck, job)]
            if reached and self._serves(neck):
                wish = self._wish(reached, road)
                planned = plan(self._yard(neck, wish, reached), wish)
                why.update(planned.left_out)
                choices.append(Choice(neck, wish, planned))
        done = {vehicle for choice in choices for vehicle in choice.planned.goes}
        nowhere = f"no neck at {self._station}.{self._end} is to be had"
        self.hopeless.update({job.vehicle: why.get(job.vehicle, nowhere) for job in jobs if job.vehicle not in done})
        best = min(choices, key=lambda choice: choice.cost, default=None)
        return best if best is not None and best.planned.steps else None

    def _serves(self, neck: Neck) -> bool:
        """Whether a neck can be had, if need be once others have gone on."""
        if self._at_once and neck.section is not None:
            return can_have(self._post, neck.section, self._station)
        return may_have(self._post, neck)

    def _reaches(self, neck: Neck, job: Job) -> bool:
        return neck.section is None or all(self._post.world.track.reaches(road, neck.section) for road in self._roads(job))

    def _wish(self, jobs: list[Job], road: str) -> Wish:
        post = self._post
        goes = {job.vehicle: job.to_road if job.to_road in self._open_here else None for job in jobs}
        home = road
        if any(road in (job.from_road, job.to_road) for job in jobs):
            home = other_home(post, self._station, road) or road
        train = post.train
        first_is_van = bool(train) and post.scene.railway.stock[train[0]].kind == "brake"
        along = int(post.manner.van_last and first_is_van and None in goes.values())
        engine_mm = post.length_mm((post.engine,))
        as_roads = {vehicle: where or TRAIN for vehicle, where in goes.items()}
        return Wish(road, train, home, as_roads, engine_mm, along, self._onward, post.manner.plans_ahead)

    def _yard(self, neck: Neck, wish: Wish, jobs: Sequence[Job]) -> Yard:
        post = self._post
        needed = {wish.train_road, wish.home, *(road for job in jobs for road in self._roads(job))}
        stacks: dict[str, tuple[str, ...]] = {}
        for road in self._open_here:
            if road in needed or self._is_at_hand(road, neck):
                stacks[road] = tuple(v for v in post.ground.stack(road, self._end) if v != post.engine)
        stacks[wish.train_road] = (*wish.train, *(v for v in stacks[wish.train_road] if v not in wish.train))
        lengths = {vehicle.id: vehicle.length_mm for vehicle in post.scene.railway.stock.values()}
        room = {road: post.mishap.room_mm(road, post.ground.plant.roads[road].length_mm) for road in stacks}
        return Yard(stacks, room, lengths, neck.place, neck.room_mm - wish.engine_mm)

    def _is_at_hand(self, road: str, neck: Neck) -> bool:
        """Whether something can be put on a road for a while."""
        post = self._post
        if neck.section is not None and not post.world.track.reaches(road, neck.section):
            return False
        return post.book.is_free(road, post.engine) and not post.ground.engine_on(road, post.engine)


def other_home(post: Post, station: str, road: str) -> str | None:
    """A free road to which a train can be shifted from its own."""
    length_mm = post.length_mm((post.engine, *post.train))
    for other in post.ground.through_roads(station):
        free = other != road and not post.ground.line(other) and post.book.is_free(other, post.engine)
        if free and post.ground.plant.roads[other].length_mm >= length_mm:
            return other
    return None
