"""The snapshot as a shape: every key, what it holds, and what it may say. A table of data.

Rule: every key is always present, and no other is. The table in DEVELOPERS.md, the view and these are held against each
other by tests.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.published.line_shapes import (
    Clock,
    HostSeconds,
    Id,
    Move,
    Railway,
    Section,
    Session,
    Shape,
    Station,
    Train,
    Vehicle,
)


class Irregularity(Shape):
    """What is, or was, not as it should be."""

    id: str
    kind: str
    level: Literal["danger", "caution", "note"]
    status: Literal["open", "ended"]
    text: str
    do: str
    because: list[str] = Field(description="Ids of things")
    cause: str | None = Field(description="The id of the one it follows from")
    explained: str | None
    acknowledged: bool
    verdict: str | None
    evidence: list[int] = Field(description="Journal numbers")
    t: HostSeconds
    clock: str | None
    places: list[Id] = Field(description="Stretches and stations; none of one that has ended")


class SteadyBoard(Shape):
    """A board and how it is heard."""

    id: Id
    link: str
    state: Literal["not-heard", "heard", "lost"]
    boot: int | None
    missing: int = Field(description="Numbers of reports that have not come")
    rejected: int
    unnumbered: bool


class Board(SteadyBoard):
    """The same, and when it was heard last."""

    last_t: HostSeconds | None


class Detector(Shape):
    """A detector and what it says."""

    id: Id
    kind: Literal["track", "treadle", "reader", "points", "proof", "token-rest", "power"]
    where: str | None
    board: Id
    input: int
    state: str
    why: str | None = Field(description="Why it is unknown; null where it is known")
    since: HostSeconds | None
    muted: bool


class StrangeTag(Shape):
    """A tag of no vehicle, read in this session."""

    tag: str
    detector: Id = Field(description="That read it last")
    t: HostSeconds


class TagRead(Shape):
    """A tag read by a reader of a boundary."""

    tag: str
    detector: Id
    t: HostSeconds


class Told(Shape):
    """A word told by an operator."""

    n: int = Field(description="Its journal number")
    t: HostSeconds
    clock: str | None
    who: str | None
    words: str
    about: list[Id] = Field(description="The vehicles in it")
    answer: str
    can_undo: bool
    undone_by: int | None = Field(description="The journal number of the word that took it back")
    undone_who: str | None


class Drawn(Shape):
    """A station that is drawn otherwise than by itself."""

    station: Id
    right: int = Field(description="Steps from where it would stand")
    down: int = Field(description="Steps from where it would stand")
    roads: list[Id] = Field(description="From the top; empty: as in railway.toml")


class Unkept(Shape):
    """What has been taken and is not on the disk."""

    since_t: HostSeconds
    since: Clock
    records: int
    why: str
    do: str
    goes_on: bool = Field(description="False: too much waits, the picture stands still")


class Snapshot(Shape):
    """The state of the railway."""

    railway: Railway | None
    session: Session
    stations: list[Station]
    sections: list[Section]
    vehicles: dict[str, Vehicle] = Field(description="By id")
    trains: list[Train]
    moves: list[Move]
    irregularities: list[Irregularity] = Field(description="Open ones first, newest first")
    boards: list[Board]
    detectors: list[Detector]
    strange_tags: list[StrangeTag]
    tags_read: list[TagRead] = Field(description="The last ones, oldest first")
    told: list[Told] = Field(description="The last words told, newest first")
    drawn: list[Drawn] = Field(description="Stations that are not drawn by themselves")
    troubles: list[str] = Field(description="What keeps links or journal from working")
    unkept: Unkept | None


class Outcome(BaseModel):
    """What the core has said; further keys by `says`."""

    model_config = ConfigDict(extra="allow")

    n: int = Field(description="Its number in the session")
    t: HostSeconds
    clock: str | None
    says: str
    evidence: list[int] = Field(description="Journal numbers")


class Picture(Shape):
    """The newest picture, as the page draws it."""

    version: int = Field(description="Grows with every picture for as long as the service runs")
    snapshot: Snapshot
    outcomes: list[Outcome] = Field(description="The last ones of the register, oldest first")
    truth: bool = Field(description="Whether /api/truth can be asked: on simulated boards only")


class TagsRead(Shape):
    """The last tags read, oldest first."""

    tags_read: list[TagRead]


class Troubles(Shape):
    """What keeps links or journal from working, in plain words."""

    troubles: list[str]


class Bridge(Shape):
    """Whether there is a bridge that keeps all the other topics true."""

    state: Literal["here", "stopped", "gone"]
    version: str
