"""What each train did: its calls with booked and actual times, booked or not.

Rule: an arrival or departure belongs to the first call at that station that has none yet; one that fits no call is shown as
a call of its own. Only statements that still stand count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.audit.account import Account, Row, clock_s, hms
from bridge.core.plan import Call


@dataclass(slots=True)
class Stop:
    """One call of a train: what was booked (None: nothing) and what was seen. Times are clock readings."""

    station: str
    booked: Call | None
    arrived: str | None = None
    arrived_late_s: float | None = None
    road: str | None = None
    departed: str | None = None
    departed_late_s: float | None = None


@dataclass(frozen=True, slots=True)
class TrainTold:
    """A train's account; `kind` is "" for one that the timetable does not know."""

    id: str
    kind: str
    engine: str
    stops: tuple[Stop, ...]


def trains(account: Account) -> tuple[TrainTold, ...]:
    """Every booked working in the order of the timetable, then every other train in the order of its first sign."""
    workings = account.railway.workings
    signs = [row for row in account.standing if row["says"] in {"arrived", "departed"}]
    others = dict.fromkeys(str(row["train"]) for row in signs if row["train"] not in workings)
    told: list[TrainTold] = []
    for train in (*workings, *others):
        working = workings.get(train)
        calls = working.calls if working else ()
        stops = _stops(account, calls, [row for row in signs if row["train"] == train])
        told.append(TrainTold(train, working.kind if working else "", working.engine if working else train, stops))
    return tuple(told)


def _stops(account: Account, calls: Sequence[Call], signs: Sequence[Row]) -> tuple[Stop, ...]:
    stops = [Stop(call.station, call) for call in calls]
    at = 0
    for row in sorted(signs, key=lambda row: (row.get("happened", row["t"]), row["n"])):
        arriving = row["says"] == "arrived"
        at = _place(stops, at, str(row["station"]), arriving)
        _fill(account, stops[at], row)
    return tuple(stops)


def _place(stops: list[Stop], at: int, station: str, arriving: bool) -> int:
    """The index of the stop that a sign at `station` belongs to, from the stop `at` on; a new stop where none is free."""
    for index in range(at, len(stops)):
        stop = stops[index]
        free = stop.departed is None and (stop.arrived is None or not arriving)
        if stop.station == station and free:
            return index
    while at < len(stops) and (stops[at].arrived or stops[at].departed):
        at += 1
    stops.insert(at, Stop(station, None))
    return at


def _fill(account: Account, stop: Stop, row: Row) -> None:
    call = stop.booked
    if row["says"] == "arrived":
        stop.arrived = _when(account, row, call.arrive_s if call else None)
        stop.arrived_late_s, stop.road = row["late"], row["road"]
    else:
        stop.departed = _when(account, row, call.depart_s if call else None)
        stop.departed_late_s = row["late"]
        stop.road = stop.road or row["road"]


def _when(account: Account, row: Row, booked_s: float | None) -> str:
    """The clock reading of a sign: booked and late make it exactly, else what the clock showed then."""
    if booked_s is not None and row["late"] is not None:
        return hms(booked_s + row["late"])
    return account.happened_clock(row) or "?"


def behind_s(stop: Stop) -> float | None:
    """How late a stop was in the end: its departure, else its arrival; None where nothing says."""
    return stop.departed_late_s if stop.departed_late_s is not None else stop.arrived_late_s


def time_of(clock: str | None) -> str:
    """A clock reading for a table: without the seconds where they are 0."""
    if clock is None or clock == "?":
        return clock or ""
    return hms(clock_s(clock)).removesuffix(":00") if clock.endswith(":00") else clock
