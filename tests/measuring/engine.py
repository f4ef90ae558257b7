"""What is measured: anything that takes the records of an evening and believes something of each vehicle.

Rule: an engine is given the railway folder and the records, never the truth, the names of faults or their rates.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.service.core import CORE
from bridge.service.folding import Core, Evening
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Held:
    """What is believed of a vehicle: its stretch or `off`, its order there from 1 at end 0, and how surely (0 to 1)."""

    place: str
    order: int | None
    sure: float


class Engine(Protocol):
    """Something that believes. `says` is whether it says outcomes at all; `micros`: what each report cost, of the
    processor's time; `reads`: what each tag read cost the inference alone, empty where that is not measured by itself."""

    says: bool
    micros: list[float]
    reads: list[float]

    def take(self, record: Record) -> Sequence[Row]:
        """Take the next record; the outcomes said of it."""

    def until(self, t: float) -> Sequence[Row]:
        """Second `t` has come and no record up to it is still to come; the outcomes said of that."""

    def close(self) -> Sequence[Row]:
        """The records are over; the outcomes said of that."""

    def beliefs(self) -> Mapping[str, Held]:
        """What is believed now of each vehicle."""


@dataclass
class WholeCore:
    """The real core, fed as the service and a replay feed it. `micros` are of the fold of each report alone, without the
    deadlines before it."""

    railway: Railway
    core: Core = CORE
    says: bool = True
    micros: list[float] = field(default_factory=list)
    reads: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._evening = Evening(self.core, self.railway)

    def take(self, record: Record) -> Sequence[Row]:
        """The record with the deadlines before it; nothing any more once the session has ended."""
        if self._evening.is_over:
            return ()
        rows = list(self.until(record.t))
        began_ns = time.thread_time_ns()
        said = self._evening.take(record)
        took_ns = time.thread_time_ns() - began_ns
        if isinstance(record, Received) and isinstance(record.line, Report):
            self.micros.append(took_ns / 1000.0)
        return rows + _rows(said)

    def until(self, t: float) -> Sequence[Row]:
        """The deadlines up to a second."""
        rows: list[Row] = []
        while (due := self._evening.due_by(t)) is not None:
            rows += _rows(self._evening.pass_deadline(due))
        return rows

    def close(self) -> Sequence[Row]:
        """The closing words, where the records end and the session has not."""
        return () if self._evening.is_over or not self._evening.n else _rows(self._evening.close())

    def beliefs(self) -> Mapping[str, Held]:
        """As the pages show it."""
        if not self._evening.n:
            return {}
        told = self._evening.view()["vehicles"]
        return {vehicle: Held(row["place"], row["order"], row["sure"]) for vehicle, row in told.items()}


def _rows(said: Iterable[Outcome]) -> list[Row]:
    return [outcome.as_dict() for outcome in said]
