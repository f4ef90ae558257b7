"""How good what was said to be wrong is: of each planted irregularity whether and when it was told, and what was false.

Rule: what is found, borne out or false say `bridge.virtual.verdict` and `alarms.py`; here it is only set down for tables.

`Planted`   an expected irregularity of the truth that came about. `after_s`: how long after it was due it was said, None
            where it never was. A danger is to be told within `SOON_S` of its evidence: `evident_s` is how long after a
            detector first told of it (`evidence.py`) it was said; `shown`: whether any did, for what nothing told of, nobody
            can know, and that is counted by itself. One that is due only later (a train that may still come out, or only
            run round) is held to that moment.
`Untrue`    an item that neither was planted, nor follows from what was, nor is borne out otherwise, whatever became of it.
            One that from its first word on stands under another alerts nobody; it is kept with `folded` set.
`Foretold`  what was foretold of trains to come, and whether that is so (`foretold.py`); it counts by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from bridge.core.irregularities import KINDS
from bridge.core.plan import Railway
from bridge.virtual.verdict import ALLOWED_S, held_against
from bridge.wire.records import Record

from .alarms import LEVELS, false_alarms, is_aside, items_of
from .evidence import told_t
from .foretold import FORETELLINGS, came_true

SOON_S = 2.0

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Planted:
    """See the module's docstring."""

    kind: str
    subject: Mapping[str, Any]
    after_s: float | None
    evident_s: float | None
    shown: bool

    @property
    def found(self) -> bool:
        """Whether it was said at all."""
        return self.after_s is not None

    @property
    def in_time(self) -> bool:
        """Whether it was said in time."""
        if self.after_s is None:
            return False
        soon = self.evident_s is not None and self.evident_s <= SOON_S
        return soon or self.after_s <= (0.0 if is_danger(self.kind) else ALLOWED_S)


@dataclass(frozen=True, slots=True)
class Untrue:
    """See the module's docstring. `level`: the highest that it had; `taken_back`: corrected, or ended in the end."""

    kind: str
    level: str
    t: float
    text: str
    folded: bool
    taken_back: bool


@dataclass(frozen=True, slots=True)
class Foretold:
    """See the module's docstring. `true` is None where the truth cannot tell."""

    kind: str
    t: float
    text: str
    true: bool | None


@dataclass(slots=True)
class Alerts:
    """All of one evening. `not_come`: planted ones of which the moment never came; `aside`: borne out otherwise."""

    planted: list[Planted] = field(default_factory=list)
    not_come: list[str] = field(default_factory=list)
    false: list[Untrue] = field(default_factory=list)
    foretold: list[Foretold] = field(default_factory=list)
    aside: list[str] = field(default_factory=list)


def is_danger(kind: str) -> bool:
    """Whether a kind is a danger."""
    return KINDS[kind].level == "danger" if kind in KINDS else False


def judged(truth: Row, railway: Railway, records: Sequence[Record], said: Sequence[Row]) -> Alerts:
    """What was said of an evening held against its truth; rows as the contract has them."""
    verdict, items, alerts = held_against(truth, said), items_of(said), Alerts()
    for found, expected in zip(verdict.expected, truth["expected"], strict=True):
        if expected["due_t"] is None:
            alerts.not_come.append(found.kind)
            continue
        evidence_t = told_t(truth, railway, records, expected)
        said_t = None if found.after_due_s is None else found.after_due_s + expected["due_t"]
        evident_s = None if said_t is None else said_t - (expected["evidence_t"] if evidence_t is None else evidence_t)
        alerts.planted.append(
            Planted(
                found.kind, expected["subject"], found.after_due_s, evident_s, evidence_t is not None or not expected["by"]
            )
        )
    standing = {row["id"] for row in verdict.besides}
    for first in false_alarms(truth, said):
        rows = items[first["id"]]
        if first["kind"] in FORETELLINGS:
            true = came_true(truth, railway, first)
            alerts.foretold.append(Foretold(first["kind"], first["t"], first["text"], true))
        elif is_aside(truth, railway, first):
            alerts.aside.append(first["kind"])
        else:
            level = min((row["level"] for row in rows), key=LEVELS.index)
            back = first["id"] not in standing or rows[-1]["status"] == "ended"
            folded = all(row["cause"] is not None for row in rows)
            alerts.false.append(Untrue(first["kind"], level, first["t"], first["text"], folded, back))
    return alerts
