"""Mistakes with wagons: one forgotten in the train, one not lifted, one set out in another siding.

Rule: what was got wrong is seen when the train has gone on without putting it right, and is not put right that evening.
"""

from __future__ import annotations

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.lists import Job
from bridge.virtual.crew.mishap import Acts, Mishap
from bridge.virtual.crew.occasions import Leg, Occasion, leg_of

DEPARTED_S = 20.0  # a train that is wholly out counts as departed so long after its last sign, at the latest

Subject = tuple[tuple[str, str], ...]


class Slip(Mishap):
    """One mistake of one crew. `made`: whether it has come about."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        self._book, self._occasion = book, occasion
        self.made = False

    def is_its(self, working: Working, call: Call) -> bool:
        """Whether this is the call at which it is made."""
        return (working.id, call.index) == (self._occasion.working, self._occasion.call)

    def train(self, working: Working, leg: Leg) -> tuple[str, ...]:
        """The whole train, in the order in which it leaves."""
        ground, engine = self._book.ground, working.engine
        ids = ground.world.rake_of(engine).ids
        road = ground.road_of(engine) or leg.call.road
        here = [v for v in ground.stack(road, leg.out.rpartition(".")[2]) if v in ids]
        ahead = not here or ids.index(here[0]) <= ids.index(here[-1])
        return ids if ahead else ids[::-1]

    def leg(self, working: Working, call: Call) -> Leg:
        """The run from a call; a crew that sets off has one."""
        found = leg_of(self._book.scene.railway, working, call)
        assert found is not None
        return found

    def expects(
        self, kind: str, subject: Subject, shows: o.Moment, due: o.Moment, *may_follow: str, past: o.Condition | None = None
    ) -> o.Expects:
        """What should be said of it, from when it shows and by when, unless it is past by then."""
        self.made = True
        return o.Expects(o.Expectation(kind, subject, shows, due, may_follow, past=past))

    def on_departure(self, working: Working, call: Call, kind: str, subject: Subject, *may_follow: str) -> o.Expects:
        """What should be said once the train has departed."""
        leg = self.leg(working, call)
        train, section = self.train(working, leg), leg.section.id
        shows = o.Moment(o.Condition("in", train[0], section))
        due = o.Moment(o.Condition("within", train[-1], section), DEPARTED_S)
        return self.expects(kind, subject, shows, due, *may_follow)

    def persists(self, order: o.RunsTo | o.Couples, tries: int = 90) -> Acts[bool]:
        """Do an order as soon as it can be; whether it could."""
        for _ in range(tries):
            if (yield order) is None:
                return True
            yield o.Waits(2.0)
        return False

    def ended(self, working: Working) -> str:
        """That it did not come about."""
        if working.id == self._occasion.working and not self.made:
            return f"a mistake was chosen for {self._occasion.station} and did not come about"
        return ""


class _OfWagon(Slip):
    """A mistake with one wagon; the rows that are not done for it say why."""

    def __init__(self, book: Book, occasion: Occasion) -> None:
        super().__init__(book, occasion)
        self._vehicle, self._road = occasion.things

    def concerns(self, working: Working, call: Call, job: Job) -> bool:
        """Whether a job is one that it gets wrong."""
        return job.vehicle == self._vehicle and (working.id, call.station) == (
            self._occasion.working,
            self._occasion.station,
        )

    def because(self, job: Job, why: str) -> None:
        """Write down why a row is not done."""
        if job.row is not None:
            self._book.lists.why[job.row] = why

    def subject(self, working: Working) -> Subject:
        """Whom it concerns, in the words of an outcome."""
        return (("train", working.id), ("vehicle", self._vehicle), ("road", self._road))


class ForgottenSetOut(_OfWagon):
    """A wagon goes on that was to stay."""

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """All but this one."""
        for job in jobs:
            if self.concerns(working, call, job):
                self.because(job, f"{working.id} forgot to set it out")
        return [job for job in jobs if not self.concerns(working, call, job)]

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """It is still in the train."""
        if self.is_its(working, call) and not self.made and self._vehicle in self._book.ground.coupled(working.engine):
            yield self.on_departure(working, call, "set-out-forgotten", self.subject(working), "wagon-misplaced")
        return False


class MissedLift(_OfWagon):
    """A wagon stays that was to go."""

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """All but this one."""
        for job in jobs:
            if self.concerns(working, call, job):
                self.because(job, f"{working.id} forgot to lift it")
        return [job for job in jobs if not self.concerns(working, call, job)]

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """It is not in the train."""
        if self.is_its(working, call) and not self.made and self._vehicle not in self._book.ground.coupled(working.engine):
            yield self.on_departure(working, call, "lift-missed", self.subject(working))
        return False


class WrongSiding(_OfWagon):
    """A wagon is set out in another siding than booked."""

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """To the other siding; once there, it is taken for done."""
        believed = []
        for job in jobs:
            if not self.concerns(working, call, job):
                believed.append(job)
            else:
                self.because(job, f"{working.id} set it out in {self._road} by mistake")
                believed += [Job(job.vehicle, job.from_road, self._road, job.row)] * (job.from_road != self._road)
        return believed

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """It stands there, whether or not the train comes once more."""
        is_there = (working.id, call.station) == (self._occasion.working, self._occasion.station)
        if is_there and not self.made and self._book.ground.road_of(self._vehicle) == self._road:
            subject = (("vehicle", self._vehicle), ("road", self._road))
            yield self.on_departure(working, call, "wagon-misplaced", subject, "set-out-forgotten")
        return False
