"""When an engine is asked and what is counted, with an engine that says what it was told to, on an evening of two wagons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.wire.records import Opened, Record

from .counting import Count
from .engine import Held, Row
from .judging import Judged, judge
from .test_toggle import railway

__all__ = ["railway"]

TRUTH: dict[str, Any] = {
    "end_t": 60.0,
    "lines": [
        [0.0, "ash.main", ["w1", "w2"]],
        [0.0, "ash.down", []],
        [20.0, "ash.down", ["w2"]],
        [21.0, "ash.main", ["w1"]],
        [40.0, "line", ["w2"]],
        [41.0, "ash.down", []],
    ],
    "events": [{"t": 20.0, "says": "departed", "train": "g1"}, {"t": 25.0, "says": "entered", "train": "g1"}],
    "vehicles": {"w1": {"place": "ash.main", "fouls": []}, "w2": {"place": "line", "fouls": []}},
    "expected": [],
    "faults": [],
    "reasons": [],
    "sections": [],
    "mistakes": [],
    "moves": [],
}
RECORDS = [Opened(t, "serial-one") for t in (1.0, 21.9, 22.0, 22.1, 50.0)]


class Told:
    """Believes w1 on the main road and w2 where its times say; says one whereabouts of w2 with each record."""

    says = True

    def __init__(self, *at: tuple[float, str, float]) -> None:
        self.micros = [1.0]
        self.reads: list[float] = []
        self.now = 0.0
        self.asked: list[float] = []
        self._at = at

    def _w2(self) -> tuple[str, float]:
        return [(place, sure) for t, place, sure in self._at if t <= self.now][-1]

    def take(self, record: Record) -> Sequence[Row]:
        self.now = record.t
        place, sure = self._w2()
        return [{"says": "whereabouts", "vehicle": "w2", "place": place, "sure": sure, "t": self.now, "n": 1}]

    def until(self, t: float) -> Sequence[Row]:
        self.asked.append(self.now)
        return ()

    def close(self) -> Sequence[Row]:
        return ()

    def beliefs(self) -> Mapping[str, Held]:
        place, sure = self._w2()
        return {"w1": Held("ash.main", 1, 1.0), "w2": Held(place, 2, sure)}


def judged(railway: Railway, engine: Told) -> Judged:
    return judge(railway, RECORDS, TRUTH, [engine])[0]


def test_it_is_asked_two_seconds_behind_a_departure_with_every_record_up_to_then(railway: Railway) -> None:
    engine = Told((0.0, "ash.main", 1.0))
    judged(railway, engine)
    assert engine.asked == [22.0]


def test_all_and_those_that_have_moved_are_counted(railway: Railway) -> None:
    late = judged(railway, Told((0.0, "ash.main", 1.0), (50.0, "line", 1.0))).counts
    assert (late["left all"], late["left moved"]) == (Count(1, 2), Count(0, 1))
    assert (late["end all"], late["end moved"]) == (Count(2, 2), Count(1, 1))
    never = judged(railway, Told((0.0, "ash.main", 1.0))).counts
    assert (never["end all"], never["end moved"]) == (Count(1, 2), Count(0, 1))


def test_a_statement_may_be_two_seconds_early_or_late(railway: Railway) -> None:
    """On the throat from 20 to 41: said at 21.9, 22.0 and 22.1 it is right; on the main road until 21, so it is right until
    23; at 1 and at 50 the throat is wrong."""
    throat = judged(railway, Told((0.0, "ash.down", 0.9))).said
    assert (throat.n, sum(each.right for each in throat.bins)) == (5, 3)
    main = judged(railway, Told((0.0, "ash.main", 0.9))).said
    assert (main.n, sum(each.right for each in main.bins)) == (5, 4)
    assert main.brier == pytest.approx((4 * 0.01 + 0.81) / 5)


def test_what_is_held_at_departures_is_judged_at_that_instant(railway: Railway) -> None:
    held = judged(railway, Told((0.0, "ash.main", 0.6))).held
    assert [(each.n, each.right) for each in held.bins] == [(1, 1), (0, 0), (0, 0), (0, 0), (0, 0), (1, 0), (0, 0)]


def test_what_was_wrong_is_noted(railway: Railway) -> None:
    notes = judged(railway, Told((0.0, "ash.main", 1.0), (50.0, "line", 1.0))).notes
    assert notes["wrong"] == [["left", 22.0, {"w2": [["ash.down"], "ash.main"]}]]
