"""The session as an event log for process mining: XES (IEEE 1849-2016) and OCEL 2.0 as JSON.

Rule: only what still stands, at the session clock's time when it happened, on the day on which the session was held
(`NO_DAY` where that is not known); hours past 23 go on into the next. In XES a case is a train; in OCEL trains, vehicles,
sections, roads and boards are objects, and an event names all that it concerns.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from bridge.audit.account import Account, Row, clock_s
from bridge.audit.page import printable

NO_DAY = date(2000, 1, 1)
LOGGED = frozenset({"departed", "arrived", "entered", "cleared", "authority", "lifted", "set-out", "move", "irregularity"})
OBJECTS = {
    "train": ("train",),
    "vehicle": ("vehicle",),
    "section": ("section",),
    "road": ("road", "booked_road", "from", "to"),
    "board": ("board",),
}
"""Which keys of an outcome name objects of which type; the key is the qualifier of the relation."""
VALUES = ("state", "late", "sure", "complete", "booked", "level", "text", "irregularity")
XES = "http://www.xes-standard.org/"
EXTENSIONS = {"Concept": "concept", "Time": "time", "Lifecycle": "lifecycle"}


@dataclass(frozen=True, slots=True)
class Logged:
    """One event of the log: its number in the register, activity, time, and the outcome it comes from."""

    n: int
    activity: str
    transition: str
    time: datetime
    row: Row

    def values(self) -> dict[str, Any]:
        """What it carries beside the objects it concerns."""
        found = {**self.row, "irregularity": self.row.get("id")}
        return {key: found[key] for key in VALUES if found.get(key) is not None}

    def objects(self) -> Iterator[tuple[str, str, str]]:
        """Type, id and qualifier of each object it concerns."""
        for kind, keys in OBJECTS.items():
            for key in keys:
                if self.row.get(key) is not None:
                    yield kind, str(self.row[key]), key


def events(account: Account) -> list[Logged]:
    """The events of the log in the order of their time."""
    midnight = _midnight(account)
    found: list[Logged] = []
    for row in account.standing:
        clock = account.happened_clock(row)
        if row["says"] not in LOGGED or clock is None:
            continue
        activity, transition = str(row["says"]), "complete"
        if activity == "irregularity":
            activity, transition = str(row["kind"]), "complete" if row["status"] == "ended" else "start"
        elif activity in {"move", "authority"}:
            activity = f"{activity} {row['state']}"
        found.append(Logged(row["n"], activity, transition, midnight + timedelta(seconds=clock_s(clock)), row))
    return sorted(found, key=lambda event: (event.time, event.n))


def _midnight(account: Account) -> datetime:
    return datetime.combine(account.day or NO_DAY, time(), UTC)


def xes(account: Account) -> str:
    """The log in XES: a trace for each train, in the order of their first events."""
    log = Element("log", {"xes.version": "1849-2016", "xes.features": "", "xmlns": XES})
    for name, prefix in EXTENSIONS.items():
        SubElement(log, "extension", name=name, prefix=prefix, uri=f"{XES}{prefix}.xesext")
    _typed(SubElement(log, "global", scope="trace"), "concept:name", "")
    everywhere = SubElement(log, "global", scope="event")
    _typed(everywhere, "concept:name", "")
    _typed(everywhere, "lifecycle:transition", "complete")
    _typed(everywhere, "time:timestamp", _midnight(account))
    SubElement(log, "classifier", name="Activity", scope="event", keys="concept:name")
    _typed(log, "concept:name", account.railway.plant.name or account.railway.plant.id)
    traces: dict[str, Element] = {}
    for event in events(account):
        train = event.row.get("train")
        if train is None:
            continue
        if train not in traces:
            traces[train] = SubElement(log, "trace")
            _typed(traces[train], "concept:name", str(train))
        _event(traces[train], event)
    indent(log)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(log, encoding="unicode") + "\n"


def _event(trace: Element, event: Logged) -> None:
    made = SubElement(trace, "event")
    _typed(made, "concept:name", event.activity)
    _typed(made, "lifecycle:transition", event.transition)
    _typed(made, "time:timestamp", event.time)
    for _, name, qualifier in event.objects():
        if qualifier != "train":
            _typed(made, qualifier, name)
    for key, value in event.values().items():
        _typed(made, key, value)


def _typed(parent: Element, key: str, value: Any) -> None:
    if isinstance(value, datetime):
        SubElement(parent, "date", key=key, value=value.isoformat(timespec="milliseconds"))
    elif isinstance(value, bool):
        SubElement(parent, "boolean", key=key, value=str(value).lower())
    elif isinstance(value, float):
        SubElement(parent, "float", key=key, value=repr(value))
    elif isinstance(value, int):
        SubElement(parent, "int", key=key, value=str(value))
    else:
        SubElement(parent, "string", key=key, value=printable(str(value)))


def ocel(account: Account) -> str:
    """The log in OCEL 2.0, its JSON form; every value is written as a string, a type that all can have."""
    logged = events(account)
    objects: dict[tuple[str, str], str] = {}
    keys: dict[str, set[str]] = {}
    rows: list[dict[str, Any]] = []
    for event in logged:
        relations = []
        for kind, name, qualifier in event.objects():
            objects[kind, name] = f"{kind} {name}"
            relations.append({"objectId": objects[kind, name], "qualifier": qualifier})
        values = {key: _text(value) for key, value in event.values().items()}
        keys.setdefault(event.activity, set()).update(values)
        row: dict[str, Any] = {"id": str(event.n), "type": event.activity, "time": _stamp(event.time)}
        row["attributes"] = [{"name": key, "value": value} for key, value in values.items()]
        rows.append({**row, "relationships": relations})
    kinds = [kind for kind in OBJECTS if any(kind == held for held, _ in objects)]
    log = {
        "objectTypes": [{"name": kind, "attributes": []} for kind in kinds],
        "eventTypes": [
            {"name": activity, "attributes": [{"name": key, "type": "string"} for key in VALUES if key in held]}
            for activity, held in sorted(keys.items())
        ],
        "objects": [
            {"id": full, "type": kind, "attributes": [], "relationships": []} for (kind, _), full in sorted(objects.items())
        ],
        "events": rows,
    }
    return json.dumps(log, ensure_ascii=False, indent=1) + "\n"


def _text(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _stamp(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")
