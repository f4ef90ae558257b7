"""How right engines are about one evening: it is played through any number of them, and all that is counted of each.

Rule: all engines take the same records and are asked at the same instants: at departures (`departures.py`: by default
`set_off`), and at the end. Counts are named by when and of whom:

`end`, `left`            the vehicles at the end, at departures (`places.vehicles`); each with `all` vehicles and those
                         `moved` up to that instant, and the `station` of all
`end lines`, `end pairs`, `left lines`, `left pairs`   the order (`places.order`)
what `alarms.alarms` and `alarms.moves` count, of engines that say outcomes

`said` is the calibration of every `whereabouts` that was said: right where the vehicle was on that stretch at some instant
within `SLACK_S` of when it was said. `held` is that of what was believed of every vehicle at the departures.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from bridge.core.plan import Railway
from bridge.wire.records import Record

from . import places
from .alarms import alarms, moves
from .counting import Calibration, Count, Counts
from .departures import set_off
from .engine import Engine, Held, Row
from .true_lines import TrueLines

SLACK_S = 2.0  # a vehicle just crossing may be said to be on either side so long


@dataclass
class Judged:
    """What one engine made of one evening. `notes`: what was wrong, for people who look for why."""

    counts: Counts = field(default_factory=dict)
    said: Calibration = field(default_factory=Calibration)
    held: Calibration = field(default_factory=Calibration)
    micros: list[float] = field(default_factory=list)
    reads: list[float] = field(default_factory=list)
    notes: dict[str, Any] = field(default_factory=dict)


class Judge:
    """Holds one engine against the truth of an evening."""

    def __init__(self, engine: Engine, railway: Railway, truth: Mapping[str, Any], lines: TrueLines) -> None:
        self._engine, self._railway, self._truth, self._lines = engine, railway, truth, lines
        self._stretches = (*railway.plant.roads, *railway.plant.sections)
        self._rows: list[Row] = []
        self.judged = Judged(micros=engine.micros, reads=engine.reads)

    def take(self, record: Record) -> None:
        """The next record."""
        self._rows += self._engine.take(record)

    def departed(self, t: float) -> None:
        """Ask the engine behind a departure."""
        self._rows += self._engine.until(t)
        held = self._engine.beliefs()
        self._ask("left", t, held)
        where = self._lines.places_at(t)
        for vehicle in sorted(where):
            belief = held.get(vehicle, places.NOWHERE)
            self.judged.held.take(belief.sure, belief.place in where[vehicle])

    def close(self) -> Judged:
        """The evening is over."""
        self._rows += self._engine.close()
        self._ask("end", self._truth["end_t"], self._engine.beliefs())
        judged = self.judged
        if self._engine.says:
            rows = [json.loads(json.dumps(row)) for row in self._rows]
            counts, false = alarms(self._truth, self._railway, rows)
            judged.counts |= counts | moves(self._truth, rows)
            judged.notes["false"] = false
            judged.notes["said"] = [row for row in rows if row["says"] == "irregularity"]
            judged.notes["moves"] = [row for row in rows if row["says"] == "move"]
            self._statements(rows)
        return judged

    def _ask(self, when: str, t: float, held: Mapping[str, Held]) -> None:
        where, moved = self._lines.places_at(t), self._lines.moved_by(t)
        counts = {
            f"{when} all": places.vehicles(held, where, sorted(where)),
            f"{when} moved": places.vehicles(held, where, sorted(moved)),
            f"{when} station": places.stations(held, where, self._railway.plant),
        }
        ordered = places.order(held, self._lines.lines_at(t), where, self._stretches)
        counts |= {f"{when} {name}": count for name, count in ordered.items()}
        for name, count in counts.items():
            self.judged.counts[name] = self.judged.counts.get(name, Count()) + count
        wrong = {v: [sorted(where[v]), held[v].place] for v in sorted(where) if not places.is_right(held, where, v)}
        if wrong:
            self.judged.notes.setdefault("wrong", []).append([when, t, wrong])

    def _statements(self, rows: Sequence[Row]) -> None:
        for row in rows:
            if row["says"] == "whereabouts":
                been = self._lines.been(row["vehicle"], row["t"] - SLACK_S, row["t"] + SLACK_S)
                self.judged.said.take(row["sure"], row["place"] in been)


def judge(
    railway: Railway,
    records: Sequence[Record],
    truth: Mapping[str, Any],
    engines: Sequence[Engine],
    at: Sequence[float] | None = None,
) -> list[Judged]:
    """What each engine makes of an evening; `at`: host seconds in order at which it is asked for departures."""
    lines = TrueLines(truth["lines"])
    judges = [Judge(engine, railway, truth, lines) for engine in engines]
    instants = list(set_off(truth) if at is None else at)
    for record in records:
        while instants and instants[0] < record.t:
            t = instants.pop(0)
            for each in judges:
                each.departed(t)
        for each in judges:
            each.take(record)
    for t in instants:
        for each in judges:
            each.departed(t)
    return [each.close() for each in judges]
