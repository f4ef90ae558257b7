"""When a train of two is out of its station: it leaves at 20; its engine comes into the section at 25, its wagon at 28."""

from __future__ import annotations

from typing import Any

from bridge.core.plan import Railway

from .departures import run_out, set_off
from .test_toggle import railway

__all__ = ["railway"]

LINES: list[list[Any]] = [
    [0.0, "ash.main", ["w1", "e1"]],
    [0.0, "ash.dock", ["w2"]],
    [21.0, "ash.down", ["e1"]],
    [22.0, "ash.main", ["w1"]],
    [24.0, "ash.down", ["w1", "e1"]],
    [24.0, "ash.main", []],
    [25.0, "line", ["e1"]],
    [26.0, "ash.down", ["w1"]],
    [28.0, "line", ["w1", "e1"]],
    [29.0, "ash.down", []],
    [50.0, "birch.up", ["e1"]],
]
TRAINS = [[0.0, "e1", None, ["e1"]], [5.0, "e1", "g1", ["e1", "w1"]], [60.0, "e1", "g1", ["e1"]]]


def truth(lines: list[list[Any]]) -> dict[str, Any]:
    events = [{"t": 20.0, "says": "departed", "train": "e1"}, {"t": 25.0, "says": "entered", "train": "e1"}]
    return {"events": events, "lines": lines, "trains": TRAINS}


def test_a_train_is_out_once_its_tail_is_off_the_throat(railway: Railway) -> None:
    assert run_out(truth(LINES), railway) == [32.0]
    assert set_off(truth(LINES)) == [22.0]


def test_what_it_has_left_behind_is_not_waited_for(railway: Railway) -> None:
    """w2 stands in the dock and was never coupled."""
    assert run_out({**truth(LINES), "trains": TRAINS[:1]}, railway) == [29.0]  # the engine alone, off the throat at 26


def test_a_train_that_is_never_wholly_in_a_section_has_no_such_instant(railway: Railway) -> None:
    short = [*LINES[:9], [28.5, "birch.up", ["e1"]], [29.0, "ash.down", []], [30.0, "line", ["w1"]]]
    assert run_out(truth(short), railway) == []
