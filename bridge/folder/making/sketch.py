"""What a page sends of a railway that is not yet a folder: texts as they were typed, in the order in which they stand.

Rule: the shape is judged here, what it means elsewhere; every text is bounded, and every list.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

MOST_STATIONS = 40
MOST_ROADS = 20
MOST_VEHICLES = 300
"""More than anybody types into a page; a larger railway is written with an editor and a spreadsheet."""

Typed = Annotated[str, Field(max_length=400)]


def _is_number(sent: object) -> object:
    """A number of JSON: no text that reads like one."""
    if isinstance(sent, str | bool):
        raise ValueError("must be a whole number")
    return sent


Index = Annotated[int, Field(ge=0, le=10_000), BeforeValidator(_is_number)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RoadSketch(_Part):
    """A road: its name as people say it, running, loop, siding or headshunt, usable length, at which ends it is open."""

    name: Typed
    kind: Typed
    length: Typed
    open: Annotated[tuple[Typed, ...], Field(max_length=2)]


class StationSketch(_Part):
    """A station with its roads."""

    name: Typed
    roads: Annotated[tuple[RoadSketch, ...], Field(max_length=MOST_ROADS)] = ()


class SectionSketch(_Part):
    """The line by which a station is reached at its up end: its length, by which rule it is worked, and how many minutes of
    the session clock trains take on it, where that is known. `start` is the station it comes from, by its number from 0, and
    the end it leaves there by: "0.up"; where that is left empty, the down end of the station before."""

    length: Typed
    rule: Typed
    goods: Typed = ""
    passenger: Typed = ""
    start: Typed = ""


class VehicleSketch(_Part):
    """A vehicle. `at` is the road on which it stands, as the numbers of station and road from 0; None: off the railway.
    Vehicles of one road stand in the order of the list, the first nearest the up end."""

    painted: Typed
    kind: Typed
    length: Typed
    tags: Typed = ""
    at: tuple[Index, Index] | None = None


class Sketch(_Part):
    """A railway, from its name to what is wired.

    `stations` stand in order along the line, up end first, branches behind; the `sections` are one fewer, one to
    each station but the first. `readers`: "none",
    "section-ends" or "road-mouths" (which are section ends too); `track`: track detectors on every road. `link` is that of
    the boards, one a station; `broker` the host of the MQTT broker.
    """

    name: Typed
    scale: Typed
    clock: Typed
    stations: Annotated[tuple[StationSketch, ...], Field(max_length=MOST_STATIONS)] = ()
    sections: Annotated[tuple[SectionSketch, ...], Field(max_length=MOST_STATIONS)] = ()
    vehicles: Annotated[tuple[VehicleSketch, ...], Field(max_length=MOST_VEHICLES)] = ()
    readers: Typed = "none"
    track: Annotated[bool, Field(strict=True)] = False
    link: Typed = "serial"
    broker: Typed = ""
