"""What HTTP answers, as shapes: a table of data, from which the OpenAPI document is made.

Rule: every key is always present, and no other is; tests hold what is really answered against it.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.folder.finding import Level
from bridge.published.line_shapes import Sure


class Said(BaseModel):
    """Part of an answer."""

    model_config = ConfigDict(extra="forbid")


class Answered(Said):
    """What became of something told. Every refusal has this shape too."""

    accepted: bool
    text: str = Field(description="A sentence: what was taken, or what to do")
    n: int | None = Field(description="The journal number, where there is one")


class Health(Said):
    """How the service fares."""

    ok: bool
    why: str | None = Field(description="Why it is not well")
    version: str
    picture: int = Field(description="The version of the newest picture")
    pages: int = Field(description="Pages that look on")
    loop_age_s: float = Field(description="Since the loop last came round")
    commit_age_s: float | None
    boards: dict[str, int] = Field(description="How many, by state")
    links: dict[str, bool] = Field(description="Whether each is open")
    unkept: int = Field(description="Records taken that are not on the disk")
    free_bytes: int | None


class Found(Said):
    """What `check` has found in the folder, as it prints it."""

    level: Level
    file: str
    line: int
    column: int
    text: str
    message: str
    remedy: str


class NewlyFound(Found):
    """The same; `new`: only once this is written."""

    new: bool


class Row(Said):
    """A line of a file."""

    line: int
    text: str


class Shown(Found):
    """The same, with the lines beside it."""

    rows: list[Row]


class Folder(Said):
    """How the railway folder stands."""

    state: Literal["empty", "faults", "opening", "session"]
    folder: str
    in_the_way: list[str]
    findings: list[Shown]
    left_out: int = Field(description="Findings that are not shown, as there are too many")
    lacks: list[str] = Field(description="Files in which nothing stands yet")


class Wrong(Said):
    """What is wrong with a field of a sketch."""

    field: str
    message: str
    remedy: str


class Tried(Said):
    """A sketch, judged: what is wrong, else the texts that would be written and what `check` says of them."""

    findings: list[Wrong]
    texts: dict[str, str]
    check: list[Shown]


class Made(Said):
    """Whether a folder has been made of a sketch."""

    accepted: bool
    text: str
    findings: list[Wrong]


class ClosingVehicle(Said):
    """Where a vehicle stands at the end."""

    vehicle: str
    painted: str
    place: str
    order: int | None
    sure: Sure
    by: str
    look: bool
    change: str | None
    was: str | None


class LeftMove(Said):
    """A move left undone."""

    line: int
    vehicle: str
    start: str
    end: str
    working: str
    call: str
    load: str
    note: str


class Offer(Said):
    """What can be written down once a session has ended."""

    session: int | None
    token: str | None = Field(description="Null: nothing can be written, and `text` says why")
    text: str
    written: bool
    vehicles: list[ClosingVehicle]
    moves: list[LeftMove]
    findings: list[NewlyFound]
    rows: dict[str, str] = Field(description="What would be written, by name of the file")


class TrueStrip(Said):
    """What really stands on a stretch, from the up end."""

    line: list[str]
    partly: list[str]
    fresh: bool


class TrueToken(Said):
    """Where a token really is."""

    station: str | None
    train: str | None


class Difference(BaseModel):
    """Where what is believed differs from what is true; further keys by `what`."""

    model_config = ConfigDict(extra="allow")

    what: str
    strips: list[str]
    runs: bool
    since_s: float


class Truth(Said):
    """What is true this instant, on simulated boards."""

    t: float
    strips: dict[str, TrueStrip]
    trains: dict[str, str | None]
    tokens: dict[str, TrueToken]
    wrong: list[Difference]
