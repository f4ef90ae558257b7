"""Engines that are fed side by side by one running core: the weighing of hypotheses in force, and the former engine.

Rule: the core hears nothing of what is beside it, and says what it would say without. What is beside gets all that the one
in force is given, at the same instant, and each of its own deadlines, with the core's own expectations; those are drawn from
what the one in force believes.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any
from unittest.mock import patch

from bridge.core import state as core_state
from bridge.core.conditioning import Observation
from bridge.core.events import Event, FolderTaken
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway, Vehicle
from bridge.core.plant import Plant
from bridge.core.whereabouts import Change, Inference, Prior
from bridge.core.whereabouts.weighed import Weighing
from bridge.service.core import CORE
from bridge.wire.records import Record

from .engine import Held, Row, WholeCore
from .former.follower import Follower

TOLD = frozenset(
    [
        "begin",
        "couple",
        "learn_tag",
        "put_off",
        "follow",
        "gather",
        "know",
        "rest",
        "given_back",
        "told_arrived",
        "told_stands",
        "told_with",
    ]
)
"""What an engine is told, besides observations and deadlines."""


@dataclass
class Spent:
    """Microseconds of the processor that one engine took: for each tag read, for everything else that it was given, and for
    all of them together."""

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
    """An inference in force, and a former one that is given what it is given. All else goes to the one in force."""

    def __init__(self, in_force: Inference, former: Inference) -> None:
        self.in_force, self.former, self.meter = in_force, former, Meter()

    def __reduce__(self) -> tuple[type[Beside], tuple[Inference, Inference]]:
        return Beside, (self.in_force, self.former)

    def __getattr__(self, name: str) -> Any:
        return partial(self._tell, name) if name in TOLD else getattr(self.in_force, name)

    def _tell(self, name: str, *told: Any) -> Any:
        """Tell both; what the one in force makes of it."""
        self.meter.beside.measured(lambda: getattr(self.former, name)(*told))
        return self.meter.in_force.measured(lambda: getattr(self.in_force, name)(*told))

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation."""
        self.meter.beside.measured(lambda: self.former.take(seen, prior), seen)
        changes: list[Change] = self.meter.in_force.measured(lambda: self.in_force.take(seen, prior), seen)
        return changes

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """The moment came that one of them waits for."""
        if _is_due(self.former, t):
            self.meter.beside.measured(lambda: self.former.pass_deadline(t, prior))
        if not _is_due(self.in_force, t):
            return []
        changes: list[Change] = self.meter.in_force.measured(lambda: self.in_force.pass_deadline(t, prior))
        return changes

    def due(self) -> float | None:
        """The first moment that one of them waits for."""
        return min((t for t in (self.in_force.due(), self.former.due()) if t is not None), default=None)


def _is_due(engine: Inference, t: float) -> bool:
    due = engine.due()
    return due is not None and due <= t


class Shadowed(WholeCore):
    """The real core with the former engine beside its own. `micros`: of the fold of each report, without the former's part;
    `reads`: of each tag read to the engine in force, with showing what is held by then."""

    def __init__(self, railway: Railway) -> None:
        self.meter = Meter()
        self.where: Beside | None = None
        self._aside = 0.0  # of the last fold, what the former engine took
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
            with patch.object(core_state, "Weighing", _beside):
                state, said = CORE.fold(state, event)
        else:
            state, said = CORE.fold(state, event)
        self.where = state.where
        self._aside = self.meter.beside.whole - before
        state.where.meter = self.meter  # late evidence gives another state, with what was beside it then
        return state, said


def _beside(plant: Plant, stock: Mapping[str, Vehicle]) -> Beside:
    return Beside(Weighing(plant, stock), Follower(plant, stock))


class Former:
    """What the former engine beside a core believes; it is driven by that core, and so has to be asked behind it."""

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
        """As it has them."""
        if self._core.where is None:
            return {}
        found = {vehicle: self._core.where.former.belief(vehicle) for vehicle in self._core.railway.stock}
        return {vehicle: Held(belief.place, belief.order, belief.sure) for vehicle, belief in found.items()}
