"""The instants of an evening at which engines are asked where everything is.

`set_off`   a little behind each departure: the train is under way, and its tail mostly still in the throat.
`run_out`   a little behind the instant at which the whole of a departed train is in its section: while it runs out, which of
            its vehicles are past which joint is not what is asked.
Rule: taken from the truth file's tables alone. A train that never is wholly in a section, as the section is shorter or the
evening ends, has no such instant.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence, Set
from typing import Any

from bridge.core.plan import Railway

SET_OFF_S = 2.0
RUN_OUT_S = 3.0
LONGEST_S = 120.0  # a train that is not out by then has gone back

Truth = Mapping[str, Any]


def set_off(truth: Truth) -> list[float]:
    """`SET_OFF_S` behind each departure, host seconds in order."""
    return sorted(event["t"] + SET_OFF_S for event in truth["events"] if event["says"] == "departed")


def run_out(truth: Truth, railway: Railway) -> list[float]:
    """`RUN_OUT_S` behind each instant at which a departed train came to be wholly in sections."""
    engines = {working.id: working.engine for working in railway.workings.values()}
    sections = railway.plant.sections.keys()
    found = []
    for event in truth["events"]:
        if event["says"] == "departed":
            engine = engines.get(event["train"], event["train"])
            out_s = _out_s(truth["lines"], _rake(truth["trains"], engine, event["t"]), event["t"], sections)
            if out_s is not None:
                found.append(out_s + RUN_OUT_S)
    return sorted(found)


def _rake(trains: Sequence[Sequence[Any]], engine: str, t: float) -> list[str]:
    """What was coupled to an engine at second `t`, itself too."""
    return next((ids for row_t, one, _, ids in reversed(trains) if one == engine and row_t <= t), [engine])


def _out_s(lines: Sequence[Sequence[Any]], rake: Collection[str], from_s: float, sections: Set[str]) -> float | None:
    """When all of a rake was first on sections alone, from second `from_s` on."""
    at: dict[str, set[str]] = {vehicle: set() for vehicle in rake}
    for n, (t, stretch, line) in enumerate(lines):
        if t > from_s + LONGEST_S:
            return None
        for vehicle, on in at.items():
            (on.add if vehicle in line else on.discard)(stretch)
        is_last_of_instant = n + 1 == len(lines) or lines[n + 1][0] != t
        if t >= from_s and is_last_of_instant and all(on and on <= sections for on in at.values()):
            return float(t)
    return None
