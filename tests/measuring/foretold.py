"""Whether what was foretold of trains is so, by what they then truly did.

Rule: a warning that is heeded, by a crew that waits, is none the less right. Trains that were said to meet would have met
where the one that is booked first had not yet come out of the section for good when the other was booked to leave. Trains
that were said to wait for each other do so where none of them goes anywhere in the next session minute.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bridge.core.plan import Railway

FORETELLINGS = ("clash-ahead", "deadlock")
MINUTE_S = 60.0

Row = Mapping[str, Any]


def came_true(truth: Row, railway: Railway, row: Row) -> bool | None:
    """Whether the first word of a foretelling was right; None where the truth cannot tell."""
    return _would_meet(truth, railway, row) if row["kind"] == "clash-ahead" else _wait(truth, railway, row)


def _would_meet(truth: Row, railway: Railway, row: Row) -> bool | None:
    """By each order of the two: the one leaves into the section at its time, the other is not out of it."""
    section = row["section"]
    plant = railway.plant
    ends = {plant.throats[t].station for t in (plant.sections[section].from_throat, plant.sections[section].to_throat)}
    told = False
    for one in row["trains"]:
        (other,) = (train for train in row["trains"] if train != one)
        working = railway.workings.get(one)
        for call, then in zip(working.calls, working.calls[1:], strict=False) if working is not None else ():
            if {call.station, then.station} != ends or call.depart_s is None:
                continue
            leaves_t = _host_s(truth, railway, row, call.depart_s)
            if leaves_t < row["t"] - MINUTE_S / railway.plant.clock:
                continue
            told = True
            if _in_it_until(truth, section, other, row["t"]) > leaves_t:
                return True
    return False if told else None


def _host_s(truth: Row, railway: Railway, row: Row, clock_s: float) -> float:
    """When the session clock shows a time, by what it showed as the word was said; crews never stop it."""
    hours, minutes, seconds = map(int, row["clock"].split(":"))
    shown_s = hours * 3600 + minutes * 60 + seconds
    return float(row["t"]) + (clock_s - shown_s) / railway.plant.clock


def _in_it_until(truth: Row, section: str, train: str, t: float) -> float:
    """When a train came out of a section for the first time after `t` (host seconds); never, where it did not go in."""
    within = False
    for began, where, trains, _ in truth["sections"]:
        if where == section:
            if within and train not in trains and began > t:
                return float(began)
            within = train in trains
    return float("inf")


def _wait(truth: Row, railway: Railway, row: Row) -> bool | None:
    engines = {working.engine for name, working in railway.workings.items() if name in row["trains"]}
    until_t = row["t"] + MINUTE_S / railway.plant.clock
    return not any(row["t"] <= t <= until_t and vehicle in engines for t, vehicle, _, _ in truth["movement"])
