"""Engines that are fed side by side by one running core: the one in force, and the one that weighs hypotheses.

Rule: the core hears nothing of what is beside it, and says what it would say without. What is beside gets each observation
and each of its own deadlines at the instant at which it would get them in force, with the core's own expectations.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from unittest.mock import patch

from bridge.core import state as core_state
from bridge.core.conditioning import Observation
from bridge.core.events import Event, FolderTaken
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway, Vehicle
from bridge.core.plant import Plant
from bridge.core.whereabouts import Change, Inference, Prior
from bridge.core.whereabouts.follower import Follower
from bridge.core.whereabouts.weighing.tracker import Tracker
from bridge.service.core import CORE
from bridge.wire.records import Record

from .engine import Held, Row, WholeCore


@dataclass
class Spent:
    """Microseconds of the processor that one engine took: for each tag read, for each other observation and deadline, and
    for all of them together."""

    reads: list[float] = field(default_factory=list)
    others: list[float] = field(default_factory=list)
    whole: float = 0.0

    def measured(self, what: Callable[[], Any], seen: Observation | None = None) -> Any:
        """Do it, and note what it cost."""
        began_ns = time.thread_time_ns()
        result = what()
        micros = (time.thread_time_ns() - began_ns) / 1000.0
        is_read = seen is not None and seen.tag is not None and seen.moves
        (self.reads if is_read else self.others).append(micros)
        self.whole += micros
        return result


@dataclass
class Meter:
    """What the engine in force and the one beside it took."""

    in_force: Spent = field(default_factory=Spent)
    beside: Spent = field(default_factory=Spent)


class Beside:
    """An inference in force, and a tracker that is given what it is given. All else goes to the one in force."""

    def __init__(self, inference: Inference, tracker: Tracker) -> None:
        self.inference, self.tracker, self.meter = inference, tracker, Meter()

    def __reduce__(self) -> tuple[type[Beside], tuple[Inference, Tracker]]:
        return Beside, (self.inference, self.tracker)

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down."""
        self.inference.begin(standing, t)
        self.tracker.begin(standing)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inference, name)

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation."""
        self.meter.beside.measured(lambda: self.tracker.take(seen, prior), seen)
        changes: list[Change] = self.meter.in_force.measured(lambda: self.inference.take(seen, prior), seen)
        return changes

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """The moment came that one of them waits for."""
        first = self.tracker.deadlines.first()
        if first is not None and first <= t:
            self.meter.beside.measured(lambda: self.tracker.pass_deadline(t, prior))
        due = self.inference.due()
        if due is None or due > t:
            return []
        changes: list[Change] = self.meter.in_force.measured(lambda: self.inference.pass_deadline(t, prior))
        return changes

    def due(self) -> float | None:
        """The first moment that one of them waits for."""
        return min((t for t in (self.inference.due(), self.tracker.deadlines.first()) if t is not None), default=None)

    def put_off(self, by_s: float) -> None:
        """What is waited for is waited for anew."""
        self.inference.put_off(by_s)
        self.tracker.deadlines.put_off(by_s)

    def learn_tag(self, tag: str, vehicle: str) -> None:
        """A tag belongs to a vehicle from now on."""
        self.inference.learn_tag(tag, vehicle)
        self.tracker.tags[tag] = vehicle


class Shadowed(WholeCore):
    """The real core with a tracker beside its engine. `micros`: of the fold of each report, without the tracker's part."""

    def __init__(self, railway: Railway) -> None:
        self.meter = Meter()
        self.where: Beside | None = None
        self._aside = 0.0  # of the last fold, what the tracker took
        super().__init__(railway, core=replace(CORE, fold=self._fold))
        self.reads = self.meter.in_force.reads

    def take(self, record: Record) -> Sequence[Row]:
        """The record, with the deadlines before it."""
        n = len(self.micros)
        rows = super().take(record)
        if len(self.micros) > n:
            self.micros[-1] -= self._aside
        return rows

    def _fold(self, state: Any, event: Event) -> tuple[Any, Sequence[Outcome]]:
        before = self.meter.beside.whole
        if isinstance(event, FolderTaken):
            with patch.object(core_state, "Follower", _beside):
                state, said = CORE.fold(state, event)
        else:
            state, said = CORE.fold(state, event)
        self.where = state.where
        self._aside = self.meter.beside.whole - before
        state.where.meter = self.meter  # late evidence gives another state, with what was beside it then
        return state, said


def _beside(plant: Plant, stock: Mapping[str, Vehicle]) -> Beside:
    return Beside(Follower(plant, stock), Tracker(plant, stock))


class Weighing:
    """What the tracker beside a core believes; it is driven by that core, and so has to be asked behind it."""

    says = False

    def __init__(self, core: Shadowed) -> None:
        self._core = core
        self.reads, self.micros = core.meter.beside.reads, core.meter.beside.others

    def take(self, record: Record) -> Sequence[Row]:
        """The core has taken it."""
        return ()

    def until(self, t: float) -> Sequence[Row]:
        """The core has come to it."""
        return ()

    def close(self) -> Sequence[Row]:
        """It says nothing."""
        return ()

    def beliefs(self) -> Mapping[str, Held]:
        """The likeliest stretch of each vehicle, with its probability and the order there as held."""
        if self._core.where is None:
            return {}
        tracker = self._core.where.tracker
        lines = {stretch: tracker.questions.line(stretch) for stretch in tracker.yard.plant.at_stretch}
        beliefs = {}
        for vehicle in tracker.yard.stock:
            place = tracker.place(vehicle)
            line = lines.get(place, ())
            order = line.index(vehicle) + 1 if vehicle in line else None
            beliefs[vehicle] = Held(place, order, min(1.0, tracker.questions.places(vehicle).get(place, 0.0)))
        return beliefs
