"""What stands and runs on the railway, as shapes: the line, vehicles, trains and moves. A table of data.

Rule: as of the whole snapshot (`bridge.published.shapes`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Id = Annotated[str, Field(description="An id of the railway folder")]
Clock = Annotated[str, Field(pattern=r"^\d\d:\d\d(:\d\d)?$")]
Sure = Annotated[float, Field(ge=0, le=1, description="How likely it is")]
Seen = Literal["occupied", "clear", "unknown", "unwatched"]
HostSeconds = Annotated[float, Field(description="Seconds of the host's clock, from the begin of the store on")]


class Shape(BaseModel):
    """Part of a picture. What is called steady leaves out what runs on by itself, and stands on its own."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)


class Railway(Shape):
    """The railway whose folder is in force."""

    id: Id
    name: str
    scale: float
    clock_rate: float = Field(description="Railway minutes to one real minute")


class SteadySession(Shape):
    """How far the session has come."""

    state: Literal["waiting", "running", "ended"]
    clock_running: bool


class Ticking(Shape):
    """The clocks, and how far the journal has come."""

    clock: Clock | None
    t: HostSeconds
    journal: int = Field(description="The last journal number")


class Session(SteadySession, Ticking):
    """How far the session has come, and its clock."""


class Road(Shape):
    """A road of a station."""

    id: Id
    name: str
    kind: Literal["running", "loop", "siding", "headshunt"]
    length_mm: int
    open: list[str] = Field(description="The ends at which it is open: up, down")
    state: Seen
    line: list[Id] = Field(description="Vehicles from the up end")
    stands_mm: int = Field(description="Their length")


class Throat(Shape):
    """What lies between the roads of a station and the line beyond."""

    id: Id
    end: Literal["up", "down"]
    state: Seen
    line: list[Id]


class SteadyStation(Shape):
    """A station, with the ids of its roads and throats."""

    id: Id
    name: str
    roads: list[Id]
    throats: list[Id]


class Station(Shape):
    """A station."""

    id: Id
    name: str
    roads: list[Road]
    throats: list[Throat]


class Authority(Shape):
    """Who may be in a section, and why."""

    train: str
    why: str


class Section(Shape):
    """A section of the line."""

    id: Id
    from_: Id = Field(alias="from")
    to: Id
    length_mm: int
    rule: Literal["one-train", "token", "staff-and-ticket", "track-circuit"]
    directions: list[str]
    state: Seen
    line: list[Id] = Field(description="Vehicles from the `from` end")
    trains: list[str] = Field(description="Those in it")
    authority: list[Authority]


class Vehicle(Shape):
    """A vehicle and where it is believed to be."""

    id: Id
    kind: str
    class_: str = Field(alias="class")
    painted: str
    length_mm: int
    place: str = Field(description="A road, throat or section, or off")
    order: int | None = Field(description="Its place in the line there, from 1")
    fouls: list[Id]
    train: str | None
    sure: Sure
    by: Literal["seen", "carried", "order", "absence", "told", "assumed"]
    tags: list[str]


class Work(Shape):
    """What a crew has to do with one vehicle at a call."""

    vehicle: Id
    does: Literal["lift", "set-out", "shift"]
    from_: Id | None = Field(alias="from")
    to: Id | None
    state: Literal["to-do", "done", "failed"]
    sure: Sure | None
    behind: list[Id] = Field(description="What stands before it, the nearest to the engine or the open end first")


class Call(Shape):
    """A call of a working at a station."""

    station: Id
    road: Id | None
    arrive: Clock | None
    depart: Clock | None
    state: Literal["done", "here", "to-come"]
    work: list[Work]


class SteadyMayGo(Shape):
    """May a train go: the answer. The crew decides."""

    section: Id
    answer: Literal["yes", "wait", "look"]
    why: str


class MayGo(SteadyMayGo):
    """The answer, and in how long it is foretold to be yes."""

    seconds: int | None = Field(description="Of the session clock; null where nothing can be said")


class SteadyTrain(Shape):
    """A train: an engine and what is coupled to it, by its working where it is booked."""

    id: str
    engine: Id
    kind: str
    state: Literal["to-come", "at-station", "out", "in-section", "ended"]
    station: Id | None
    road: Id | None
    section: Id | None
    call: int | None = Field(description="The call it is at, or has left, from 0")
    calls: list[Call]
    late: int | None = Field(description="Seconds of the session clock; negative: early")
    rake: list[Id] = Field(description="Its vehicles, engine end first")
    may_go: SteadyMayGo | None


class Train(SteadyTrain):
    """The same, and in how long it may go."""

    may_go: MayGo | None


class Move(Shape):
    """A booked move of a vehicle."""

    vehicle: Id
    from_: Id = Field(alias="from")
    to: Id
    working: str | None
    state: Literal["booked", "in-train", "done", "failed", "carried-over"]
    sure: Sure | None
