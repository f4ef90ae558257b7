"""The work of a call: what is set out, lifted and moved there, from whichever end it can be done.

Rule: first what can be done where the engine is, then, after running round, what lies at the other end; but a siding that
trails at a later call of the working is left for then. What cannot be done stays as it is, with the reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.choosing import Choosing, other_home
from bridge.virtual.crew.ground import OTHER
from bridge.virtual.crew.lists import Job
from bridge.virtual.crew.passes import Onward
from bridge.virtual.crew.post import Doing, PatienceError, Post
from bridge.virtual.crew.round import giving_back, holding, run_round
from bridge.virtual.crew.shunting import Shunter
from bridge.virtual.crew.stacks import CannotError

ROUNDS = 12  # passes and runs round at one call, at most


class Calling:
    """One crew at one call."""

    def __init__(self, post: Post, working: Working, call: Call, extra: Sequence[str] = ()) -> None:
        self._post, self._working, self._call = post, working, call
        self._extra = tuple(extra)  # vehicles of the rake that stand elsewhere at the station
        self._left: dict[str, str] = {}  # what cannot be done at this call, and why
        self._rows = frozenset(post.lists.done)

    def work(self) -> Doing[None]:
        """All of it, as far as it goes."""
        yield from self._post.mishap.calls(self._working, self._call)
        for _ in range(ROUNDS):
            jobs = self._jobs()
            if not jobs:
                break
            end, here = self._at_hand(jobs)
            if end is not None and here:
                yield from self._pass(end, here)
            elif not (yield from self._to_the_other_end(jobs)):
                break
        yield from self._leave_here()
        for job in self._jobs(all_of_them=True):
            if job.row is not None and job.vehicle in self._left:
                self._post.lists.why[job.row] = self._left[job.vehicle]

    def booked(self) -> list[Job]:
        """What is to be done at the call with the train as it is now, and with what stands there now."""
        post = self._post
        return post.lists.jobs(self._working, self._call, frozenset(post.train), post.ground.standing_at(self._call.station))

    def _jobs(self, all_of_them: bool = False) -> list[Job]:
        post = self._post
        stands = post.ground.standing_at(self._call.station)
        train = frozenset(post.train)
        jobs = self.booked()
        jobs += [Job(v, stands[v], None) for v in self._extra if v in stands and v not in train]
        jobs = [job for job in jobs if not self._is_second_row(job)]
        jobs = post.mishap.tasks(self._working, self._call, jobs)
        road = post.ground.road_of(post.engine)
        if all_of_them:
            return jobs
        return [job for job in jobs if job.vehicle not in self._left and not (job.from_road is None and job.to_road == road)]

    def _is_second_row(self, job: Job) -> bool:
        """Whether a job's vehicle has been brought here at this very call: what is set out is not lifted at once."""
        lists = self._post.lists
        return any(lists.row(n).vehicle == job.vehicle for n in lists.done - self._rows)

    # -- where it can be done ----------------------------------------------------------------------------------------

    def _at_hand(self, jobs: list[Job]) -> tuple[str | None, list[Job]]:
        """The end at which the engine can work now, and what of the jobs it can do there."""
        post, road = self._post, self._post.road()
        end = post.ground.end_of_engine(post.engine, road)
        ends = [end] if end is not None else list(post.ground.plant.roads[road].open)
        found: list[tuple[str | None, list[Job]]] = [(e, [job for job in jobs if self._can_at(job, e, road)]) for e in ends]
        best, here = max(found, key=lambda row: len(row[1]), default=(None, []))
        open_here = post.ground.roads_at(self._call.station, best or "")
        if len(here) < len(jobs) or any(job.to_road is not None and job.to_road not in open_here for job in here):
            through = post.ground.through_roads(self._call.station)  # one may be wanted yet for running round
            here = [job for job in here if job.to_road not in through]
        elsewhere = [job for job in here if road not in (job.from_road, job.to_road)]
        return best, elsewhere or here  # for what is to be left on the train's own road, all of the train has to move

    def _can_at(self, job: Job, end: str, road: str) -> bool:
        ground = self._post.ground
        open_here = ground.roads_at(self._call.station, end)
        if road not in open_here:
            return False
        if job.from_road == road:
            return ground.stack(road, end)[0] == self._post.engine
        wanted = job.to_road if job.from_road is None else job.from_road
        return wanted in open_here

    def _to_the_other_end(self, jobs: list[Job]) -> Doing[bool]:
        """Run round for what lies there; whether the engine is there now."""
        post, road = self._post, self._post.road()
        end = post.ground.end_of_engine(post.engine, road)
        there = [job for job in jobs if end is not None and self._can_at_other(job, OTHER[end], road)]
        for job in jobs:
            if job not in there:
                self._left[job.vehicle] = f"from {road} no engine gets at {job.from_road or job.to_road}"
        if not [job for job in there if not self.trails_later(job)]:
            return False
        try:
            yield from run_round(post)
        except CannotError as error:
            if post.ground.end_of_engine(post.engine, road) is None:
                raise  # it has left its train and does not get back to it
            self._left.update({job.vehicle: str(error) for job in there})
            return False
        return True

    def _can_at_other(self, job: Job, end: str, road: str) -> bool:
        open_there = self._post.ground.roads_at(self._call.station, end)
        return road in open_there and (job.from_road == road or (job.from_road or job.to_road) in open_there)

    def trails_later(self, job: Job) -> bool:
        """Whether the working comes back to this station so that its engine is at the right end for a job."""
        plant = self._post.ground.plant
        for later in self._working.calls[self._call.index + 1 :]:
            if later.station != self._call.station or not self._post.lists.can_wait_for(self._working, later, job):
                continue
            before = self._working.calls[later.index - 1]
            section = plant.section_between(before.station, later.station)
            if section is None:
                continue
            throat = next(t for t in section.throats if plant.throats[t].station == later.station)
            siding = plant.roads[job.from_road or job.to_road or ""]
            if OTHER[plant.throats[throat].end] in siding.open:
                return True
        return False

    # -- one pass ----------------------------------------------------------------------------------------------------

    def _pass(self, end: str, jobs: list[Job]) -> Doing[None]:
        post, road = self._post, self._post.road()
        joined = yield from self._couple_beyond(end, [job for job in jobs if job.from_road == road])
        if joined:
            return
        choosing = Choosing(post, self._call.station, end, tuple(self._onward((*post.train, *(j.vehicle for j in jobs)))))
        try:
            choice = yield from choosing.choose(jobs)
        except PatienceError as error:
            self._left.update({job.vehicle: str(error) for job in jobs})
            return
        self._left.update(choosing.hopeless)
        if choice is None:
            return
        train = (*choice.wish.train, *choice.planned.goes)
        how = yield from holding(post, choice.neck)
        shunter = Shunter(post, end, choice.neck, choice.wish.home, train)
        try:
            yield from shunter.work(choice.planned.steps, road)
        except CannotError as error:
            self._left.update({vehicle: str(error) for vehicle in choice.planned.goes})
            yield from shunter.go_home()
        for vehicle in choice.planned.goes:
            if vehicle not in post.train:
                post.lists.note_done(vehicle, post.ground.road_of(vehicle) or "")
        yield from giving_back(post, choice.neck, how)
        post.keeps_only(choice.wish.home)

    def _onward(self, vehicles: Sequence[str]) -> Iterator[Onward]:
        """The roads of the later calls, and which of these vehicles the train has set out before each."""
        lists, calls = self._post.lists, self._working.calls
        last = {vehicle: lists.sets_out_at(self._working, self._call, vehicle) for vehicle in vehicles}
        for call in calls[self._call.index + 1 :]:
            gone = frozenset(vehicle for vehicle, index in last.items() if index is not None and index < call.index)
            yield Onward(call.road, self._post.ground.plant.roads[call.road].length_mm, gone)

    def _couple_beyond(self, end: str, jobs: list[Job]) -> Doing[bool]:
        """What is to be lifted stands next to the train on its own road: set back onto it."""
        post, road = self._post, self._post.road()
        wanted = {job.vehicle for job in jobs if job.to_road is None}
        beyond = post.ground.stack(road, end)[1 + len(post.train) :]
        count = next((n for n, vehicle in enumerate(beyond) if vehicle not in wanted), len(beyond))
        if not count:
            return False
        while beyond[count - 1] not in post.train:
            nearest = next(vehicle for vehicle in beyond if vehicle not in post.train)
            yield from post.must(o.Couples(nearest, None, post.shunting_mm_s()))
        too_many = tuple(vehicle for vehicle in beyond[count:] if vehicle in post.train)
        if too_many:
            yield from post.must(o.Leaves(too_many))
        return True

    # -- what stays on the train's own road --------------------------------------------------------------------------

    def _leave_here(self) -> Doing[None]:
        """Uncouple what is booked to this very road."""
        post = self._post
        road = post.ground.road_of(post.engine)
        stays = [job.vehicle for job in self._jobs(all_of_them=True) if job.from_road is None and job.to_road == road]
        train = post.train
        if not stays or road is None:
            return
        if set(train[-len(stays) :]) != set(stays):
            yield from self._sort_out(road, stays)
            train = tuple(vehicle for vehicle in post.train if vehicle in stays)
            if post.road() != road:
                return
        tail = train[-len(stays) :]
        if set(tail) == set(stays) and set(post.train[-len(tail) :]) == set(tail):
            yield from post.must(o.Leaves(tail))
            for vehicle in tail:
                post.lists.note_done(vehicle, road)
            return
        why = f"it stands amid the train on {road}, and no other road is free for the rest"
        self._left.update(dict.fromkeys(stays, why))

    def _sort_out(self, road: str, stays: list[str]) -> Doing[None]:
        """Put the rest of the train on another road, so that these can stay."""
        end = self._post.ground.end_of_engine(self._post.engine, road)
        if end is not None and other_home(self._post, self._call.station, road) is not None:
            yield from self._pass(end, [Job(vehicle, None, road) for vehicle in stays])
