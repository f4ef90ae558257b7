"""One crew's place: its engine, what it sees and shares, and the few things everything it does is made of.

Rule: a crew is a generator. It yields an order and is resumed when that is done (None) or could not be (`Refusal`); in
between it sees the railway only as it stands when it is resumed.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable
from dataclasses import dataclass
from random import Random
from typing import TypeVar

from bridge.core.plan import Working
from bridge.virtual import orders as o
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.ground import Ground
from bridge.virtual.crew.lists import Lists
from bridge.virtual.crew.manner import Manner
from bridge.virtual.crew.mishap import Mishap
from bridge.virtual.crew.stacks import CannotError
from bridge.virtual.motion import scale_speed_mm_s
from bridge.virtual.scene import Scene
from bridge.virtual.ways import RunOrder, plan_run
from bridge.virtual.world import BlockedError, World

LOOKS_S = 2.0  # who waits looks again so often


@dataclass(frozen=True, slots=True)
class Refusal:
    """An order that could not be done; `by`: the vehicle in the way, "" where it is none; `passing`: it may be, soon."""

    reason: str
    by: str = ""
    passing: bool = False


Result = TypeVar("Result")
Doing = Generator[o.Order, Refusal | None, Result]


class PatienceError(CannotError):
    """Waiting has gone on for so long that the crew ends its evening."""


@dataclass
class Post:
    """What a crew works with. `working` is the one it is on."""

    engine: str
    scene: Scene
    ground: Ground
    book: Book
    lists: Lists
    manner: Manner
    mishap: Mishap
    chance: Random
    working: Working | None = None

    # -- seeing ------------------------------------------------------------------------------------------------------

    @property
    def world(self) -> World:
        """The railway itself."""
        return self.scene.world

    @property
    def train(self) -> tuple[str, ...]:
        """What is coupled to the engine, nearest first."""
        return self.ground.coupled(self.engine)

    @property
    def name(self) -> str:
        """What the train is called."""
        return self.engine if self.working is None else self.working.id

    def road(self) -> str:
        """The road the engine is on; raises `CannotError` where it is on none."""
        road = self.ground.road_of(self.engine)
        if road is None:
            raise CannotError(f"{self.engine} stands on no road")
        return road

    def length_mm(self, vehicles: Iterable[str]) -> float:
        """Over buffers."""
        return sum(self.scene.railway.stock[vehicle].length_mm for vehicle in vehicles)

    def shunting_mm_s(self) -> float:
        """How fast this crew shunts on this railway."""
        return scale_speed_mm_s(self.manner.shunting_km_h, self.scene.railway.plant.scale)

    def could(self, order: RunOrder) -> bool:
        """Whether a run could be, with everything standing as it does."""
        try:
            plan_run(self.world, self.world.key_of(self.engine), order)
        except BlockedError:
            return False
        return True

    # -- doing -------------------------------------------------------------------------------------------------------

    def does(self, order: o.Order) -> Doing[Refusal | None]:
        """Give an order after a moment of thought; what came of it."""
        think_s = self.chance.uniform(*self.manner.think_s)
        if self.chance.random() < self.manner.dreams_share:
            think_s += self.manner.dreams_s
        yield o.Waits(think_s)
        refusal = yield order
        if refusal is None:
            self.book.stirred()
        return refusal

    def must(self, order: o.Order) -> Doing[None]:
        """Give an order, again while somebody is in the way who will go. Raises `CannotError`."""
        while (refusal := (yield from self.does(order))) is not None:
            if not refusal.passing and not self.will_go(refusal.by):
                raise CannotError(refusal.reason)
            yield from self.waits(refusal.reason)

    def will_go(self, vehicle: str) -> bool:
        """Whether a vehicle is in a train whose crew is still at work."""
        if not vehicle:
            return False
        return any(v in self.book.at_work and v != self.engine for v in self.world.rake_of(vehicle).ids)

    def goes_soon(self, vehicle: str) -> bool:
        """Whether a vehicle is in a train that goes on in time for this crew to shunt where it stands now."""
        if not self.will_go(vehicle):
            return False
        others = (v for v in self.world.rake_of(vehicle).ids if v in self.book.at_work)
        mine_s = self.book.due_out.get(self.engine)
        if mine_s is None:
            return True
        limit_s = max(mine_s, self.scene.clock.shows(self.scene.now_s)) + self.manner.shunts_later_min * 60.0
        return all((self.book.due_out.get(engine) or 0.0) <= limit_s for engine in others)

    def waits(self, why: str, patience_min: float | None = None) -> Doing[None]:
        """Wait a moment. Raises `PatienceError` once nothing at all has stirred for too long."""
        yield o.Waits(LOOKS_S)
        if self.book.quiet_min() > (self.manner.patience_min if patience_min is None else patience_min):
            self.book.wants_no_more(self.engine)
            self.book.stirred()
            raise PatienceError(f"waited in vain: {why}")

    def claims(self, things: Iterable[str], why: str) -> Doing[None]:
        """Wait until all these are its own."""
        wanted = frozenset(things)
        while not self.book.claim(self.engine, wanted):
            yield from self.waits(why)

    def until_clock(self, clock_s: float | None) -> Doing[None]:
        """Wait for a time of the session clock."""
        if clock_s is None or self.scene.clock.wait_s(clock_s, self.scene.now_s) <= 0.0:
            return
        self.book.at_leisure.add(self.engine)
        yield o.UntilClock(clock_s)
        self.book.at_leisure.discard(self.engine)
        self.book.stirred()

    def keeps_only(self, *roads: str) -> None:
        """It needs nothing but these roads (and where it stands) any more."""
        self.book.keeps_only(self.engine, roads)
