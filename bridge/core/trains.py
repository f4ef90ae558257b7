"""The trains: which engine works what, and how far each has come.

Rule: a train is an engine and what is coupled to it, booked or not. A working begins when its engine stands ready at its
first call; an engine has one working at a time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Section

MINUTE_S = 60.0


class Phase(StrEnum):
    """How far a train has come."""

    TO_COME = "to-come"
    AT_STATION = "at-station"
    OUT = "out"
    IN_SECTION = "in-section"
    ENDED = "ended"


@dataclass(slots=True)
class Train:
    """One train. `call` is the call it is at, or has left; `road` where it came in; `brought` the vehicles that
    came with it; `came` when it came to each of its calls but the first (index to host seconds);
    `is_road_sure`: that it came in on `road` is sure;
    `sure_at` the station at which its engine surely was last; `left` the station from which it last departed, as journal
    number `left_n` has shown, when `sure_at` was `left_from`; `is_gone` whether that is sure; `away_t` since when its engine
    is surely away from there."""

    id: str
    engine: str
    working: Working | None
    phase: Phase = Phase.TO_COME
    call: int = 0
    station: str | None = None
    road: str | None = None
    section: str | None = None
    late_s: int | None = None
    arrived_t: float | None = None
    arrived_n: int = 0
    departed_n: int = 0
    entered_n: int = 0
    arrivals: int = 0
    wrong_road: tuple[str, tuple[str, ...], tuple[int, ...]] | None = None
    is_road_sure: bool = False
    told_depart: bool = False
    sure_at: str | None = None
    left: str | None = None
    left_from: str | None = None
    left_n: int = 0
    is_gone: bool = False
    away_t: float | None = None
    came: dict[int, float] = field(default_factory=dict)
    brought: frozenset[str] = frozenset()

    def first_s(self) -> float:
        """The first time that its timetable tells, in session seconds; 0.0 where it tells none."""
        calls = self.working.calls if self.working is not None else ()
        return next((t for call in calls for t in (call.arrive_s, call.depart_s) if t is not None), 0.0)

    def this_call(self) -> Call | None:
        """The call it is at or has left."""
        return None if self.working is None or self.call >= len(self.working.calls) else self.working.calls[self.call]

    def next_call(self) -> Call | None:
        """The call after this one."""
        if self.working is None or self.call + 1 >= len(self.working.calls):
            return None
        return self.working.calls[self.call + 1]


@dataclass
class Roster:
    """All trains by id, and the train that each engine is working."""

    trains: dict[str, Train] = field(default_factory=dict)
    of_engine: dict[str, str] = field(default_factory=dict)
    queue: dict[str, list[str]] = field(default_factory=dict)

    def prepare(self, railway: Railway) -> None:
        """Make a train of every working, in the order in which each engine works them."""
        made = [Train(working.id, working.engine, working) for working in railway.workings.values()]
        for train in sorted(made, key=lambda train: (train.first_s(), train.id)):
            self.trains[train.id] = train
            self.queue.setdefault(train.engine, []).append(train.id)

    def current(self, engine: str) -> Train | None:
        """The train that an engine is working, or has worked last."""
        train = self.of_engine.get(engine)
        return None if train is None else self.trains[train]

    def following(self, engine: str) -> Train | None:
        """The engine's next working that has not begun."""
        for train_id in self.queue.get(engine, ()):
            if self.trains[train_id].phase is Phase.TO_COME:
                return self.trains[train_id]
        return None

    def take_over(self, train: Train, station: str | None, road: str | None) -> None:
        """An engine begins a working: it stands ready at its first call."""
        self.of_engine[train.engine] = train.id
        train.phase, train.call, train.station, train.road = Phase.AT_STATION, 0, station, road

    def change_engine(self, train: Train, engine: str) -> None:
        """Another engine works a train from now on; where that works another still, once it stands ready for this one."""
        self.queue[train.engine] = [other for other in self.queue.get(train.engine, ()) if other != train.id]
        if self.of_engine.get(train.engine) == train.id:
            del self.of_engine[train.engine]
        queue = self.queue.setdefault(engine, [])
        queue.append(train.id)
        queue.sort(key=lambda other: self.trains[other].first_s())
        train.engine = engine
        works = self.current(engine)
        if train.call == 0 and train.phase is Phase.AT_STATION and works is not None and works.phase is not Phase.ENDED:
            train.phase = Phase.TO_COME
        if train.phase is not Phase.TO_COME:
            self.of_engine[engine] = train.id

    def extra(self, engine: str, name: str, station: str | None) -> Train:
        """An engine works a train that is in no timetable and has a name of its own."""
        self.trains[name] = train = Train(name, engine, None, Phase.AT_STATION, station=station)
        self.of_engine[engine] = name
        return train

    def unbooked(self, engine: str) -> Train:
        """A train in no timetable, named by its engine."""
        train = self.trains.get(engine)
        if train is None:
            train = Train(engine, engine, None)
            self.trains[engine] = train
        train.phase = Phase.AT_STATION
        self.of_engine[engine] = engine
        return train


def section_after(railway: Railway, train: Train) -> Section | None:
    """The section by which a train is booked to leave its present call."""
    here, then = train.this_call(), train.next_call()
    if here is None or then is None:
        return None
    return railway.plant.section_between(here.station, then.station)


def first_section(railway: Railway, working: Working) -> Section | None:
    """The section that a working enters first."""
    if len(working.calls) < 2:
        return None
    return railway.plant.section_between(working.calls[0].station, working.calls[1].station)


def calls_at(working: Working, station: str) -> Iterable[Call]:
    """The calls of a working at one station, in order."""
    return (call for call in working.calls if call.station == station)


def run_s(railway: Railway, working: Working, call: int, by: Section | None = None) -> float | None:
    """How long a working is booked to run from one call (from 0) to the next: by the timetable, else as its kind takes in
    the section between them (`by`, where it runs by another than is booked)."""
    if call + 1 >= len(working.calls):
        return None
    here, then = working.calls[call], working.calls[call + 1]
    if here.depart_s is not None and then.arrive_s is not None and then.arrive_s > here.depart_s:
        return then.arrive_s - here.depart_s
    section = by or railway.plant.section_between(here.station, then.station)
    minutes = None if section is None else section.minutes.get(working.kind)
    return None if minutes is None else minutes * MINUTE_S
