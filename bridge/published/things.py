"""A snapshot cut into things, each of which has an MQTT topic of its own under `numbertaker/<railway>/state/`.

Rule: a thing is published as it stands in the snapshot, but for what runs on by itself (clocks, the time at which a board
was heard, seconds that are left): a broker writes down whatever is retained, and would write for ever. Ids become one level
of a topic, whatever is in them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from bridge import __version__
from bridge.published import line_shapes, shapes

ROOT = "state"
BRIDGE = "bridge"
TICK = "clock"

Row = Mapping[str, Any]
Things = Mapping[str, Row]
"""By what follows `numbertaker/<railway>/state/`."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Things of one kind: `name` is their topic, or its first level where there are several (`parameter` says the second).

    `rows` finds them in a snapshot; of each the keys of `shape` are published.
    """

    name: str
    shape: type[line_shapes.Shape]
    rows: Callable[[Row], Iterable[tuple[str, Row]]]
    parameter: str | None = None
    each: str = ""

    def cut(self, row: Row) -> Row:
        """A row without the keys that its shape leaves out."""
        return _cut(self.shape, row)


def _alone(key: str) -> Callable[[Row], Iterable[tuple[str, Row]]]:
    """The only thing of its kind; none where the snapshot has null."""
    return lambda snapshot: () if snapshot[key] is None else [("", snapshot[key])]


def _listed(key: str) -> Callable[[Row], Iterable[tuple[str, Row]]]:
    """A list that is one thing."""
    return lambda snapshot: [("", {key: snapshot[key]})]


def _by_id(key: str, named: str = "id") -> Callable[[Row], Iterable[tuple[str, Row]]]:
    return lambda snapshot: [(row[named], row) for row in snapshot[key]]


def _inside(key: str) -> Callable[[Row], Iterable[tuple[str, Row]]]:
    """Roads or throats."""
    return lambda snapshot: [(row["id"], row) for station in snapshot["stations"] for row in station[key]]


def _stations(snapshot: Row) -> Iterable[tuple[str, Row]]:
    for station in snapshot["stations"]:
        within = {key: [row["id"] for row in station[key]] for key in ("roads", "throats")}
        yield station["id"], {**station, **within}


KINDS = (
    Kind("railway", line_shapes.Railway, _alone("railway"), each="The railway whose folder is in force."),
    Kind("session", line_shapes.SteadySession, _alone("session"), each="How far the session has come."),
    Kind("stations", line_shapes.SteadyStation, _stations, "station", "A station, its roads and throats by id."),
    Kind("roads", line_shapes.Road, _inside("roads"), "road", "A road and what stands on it."),
    Kind("throats", line_shapes.Throat, _inside("throats"), "throat", "What lies between the roads and the line."),
    Kind("sections", line_shapes.Section, _by_id("sections"), "section", "A section, who is in it and who may be."),
    Kind("vehicles", line_shapes.Vehicle, lambda s: s["vehicles"].items(), "vehicle", "A vehicle, where it is, how sure."),
    Kind("trains", line_shapes.SteadyTrain, _by_id("trains"), "train", "A train, its calls and its rake."),
    Kind(
        "moves",
        line_shapes.Move,
        lambda s: [(str(n), row) for n, row in enumerate(s["moves"], 1)],
        "number",
        "A booked move, by its place among the moves of the session, from 1.",
    ),
    Kind("irregularities", shapes.Irregularity, _by_id("irregularities"), "irregularity", "One open item a cause."),
    Kind("boards", shapes.SteadyBoard, _by_id("boards"), "board", "A board and how it is heard."),
    Kind("detectors", shapes.Detector, _by_id("detectors"), "detector", "A detector and what it says."),
    Kind("strange-tags", shapes.StrangeTag, _by_id("strange_tags", "tag"), "tag", "A tag of no vehicle."),
    Kind("tags-read", shapes.TagsRead, _listed("tags_read"), each="The last tags read."),
    Kind(
        "told", shapes.Told, lambda s: [(str(row["n"]), row) for row in s["told"]], "number", "A word told, by its number."
    ),
    Kind("drawn", shapes.Drawn, _by_id("drawn", "station"), "station", "A station that is drawn otherwise than by itself."),
    Kind(
        "troubles",
        shapes.Troubles,
        _listed("troubles"),
        each="What keeps links or journal from working.",
    ),
    Kind("unkept", shapes.Unkept, _alone("unkept"), each="What is not on the disk; there only while that is so."),
)
"""Everything of a snapshot, each kind with its topic."""


def things(snapshot: Row) -> Things:
    """The things of a snapshot, all keys in the snapshot's order."""
    return {topic(kind.name, key): kind.cut(row) for kind in KINDS for key, row in kind.rows(snapshot)}


def ticking(snapshot: Row) -> Row:
    """What runs on by itself: the clocks and the journal number."""
    return _cut(line_shapes.Ticking, snapshot["session"])


def bridge_is(state: str) -> Row:
    """What stands at `state/bridge`: here, stopped, or gone."""
    return shapes.Bridge(state=state, version=__version__).model_dump()  # type: ignore[arg-type]


def topic(name: str, key: str = "") -> str:
    """What follows `state/`. A key becomes one level: all but letters, figures and `-._~` is percent-encoded (RFC 3986)."""
    return f"{name}/{quote(key, safe='')}" if key else name


def _cut(shape: type[line_shapes.Shape], row: Row) -> Row:
    keys = {info.alias or name for name, info in shape.model_fields.items()}
    found = {key: value for key, value in row.items() if key in keys}
    if shape is line_shapes.SteadyTrain and found["may_go"] is not None:
        found["may_go"] = _cut(line_shapes.SteadyMayGo, found["may_go"])
    return found
