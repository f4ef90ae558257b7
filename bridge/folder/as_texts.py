"""A railway as the five texts of its folder.

Rule: what is written reads back as it was; what a folder takes for granted (fouls, defaults) is left unsaid.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping

from bridge.core.plan import Railway
from bridge.core.plant import Detector, Plant
from bridge.folder.setting_tables import COLUMNS, Broker

Remarks = Mapping[str, str]
"""What is to stand as a comment beside the id of a road, by its full id: one line."""


def as_texts(railway: Railway, heading: str, broker: Broker | None = None, remarks: Remarks | None = None) -> dict[str, str]:
    """The files of a folder by name. `heading` is the comment, one line, with which railway.toml begins."""
    return {
        "railway.toml": "".join(f"{line}\n" for line in _plant(railway.plant, heading, broker, remarks or {})),
        "stock.csv": _sheet("stock", _stock(railway)),
        "whereabouts.csv": _sheet("whereabouts", ((s.vehicle, s.place, s.order) for s in railway.standing)),
        "timetable.csv": _sheet("timetable", _calls(railway)),
        "moves.csv": _sheet("moves", _moves(railway)),
    }


def _sheet(kind: str, rows: Iterable[Iterable[object]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([COLUMNS[kind], *rows])
    return text.getvalue()


def _number(value: float) -> str:
    """Plain digits: no sheet is read with powers of ten in it."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _value(value: object) -> str:
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    return json.dumps(value, ensure_ascii=False)  # what JSON escapes TOML escapes so too, and reads all else as it is


def _table(head: str, **keys: object) -> Iterator[str]:
    """A table with those of its keys that say something."""
    yield ""
    yield head
    for key, value in keys.items():
        if value is not None and value is not False and value not in ((), {}):
            yield f"{key} = {_value(value)}"


def _remarked(table: Iterator[str], remark: str | None) -> Iterator[str]:
    for line in table:
        yield f"{line}  # {remark}" if remark is not None and line.startswith("id = ") else line


def _plant(plant: Plant, heading: str, broker: Broker | None, remarks: Remarks) -> Iterator[str]:
    yield f"# {heading}"
    yield from _table("[railway]", id=plant.id, name=plant.name, scale=plant.scale, clock=plant.clock)
    for station in plant.stations.values():
        yield from _table("[[station]]", id=station.id, name=station.name)
        for road in (plant.roads[r] for r in station.roads):
            keys = {"id": road.name, "kind": str(road.kind), "length": road.length_mm}
            yield from _remarked(
                _table("[[station.road]]", **keys, open=road.open, reaches=road.reaches), remarks.get(road.id)
            )
        for throat in (plant.throats[f"{station.id}.{end}"] for end in ("up", "down")):
            if throat.length_mm is not None or throat.headshunt is not None:
                neck = throat.headshunt and throat.headshunt.partition(".")[2]
                yield from _table("[[station.throat]]", end=throat.end, length=throat.length_mm, headshunt=neck)
    for section in plant.sections.values():
        keys = {"id": section.id, "from": section.from_throat, "to": section.to_throat, "length": section.length_mm}
        directions = section.directions if len(section.directions) == 1 else ()
        more = {"rule": str(section.rule), "directions": directions, "minutes": dict(section.minutes)}
        yield from _table("[[section]]", **keys, **more, token_tags=section.token_tags)
    if broker is not None:
        yield from _table("[broker]", host=broker.host, port=broker.port, tls=broker.tls, user=broker.user)
    for board in plant.boards.values():
        yield from _table("[[board]]", id=board.id, link=board.link)
    for detector in plant.detectors.values():
        yield from _detector(detector)


def _detector(detector: Detector) -> Iterator[str]:
    usual = {"track": 1000.0, "token-rest": 500.0}.get(detector.kind, 0.0)
    yield from _table(
        "[[detector]]",
        id=detector.id,
        kind=str(detector.kind),
        covers=detector.covers,
        at=detector.at,
        side=detector.side,
        sees=detector.sees,
        on=detector.on,
        off=detector.off,
        guards=detector.guards,
        token=detector.token,
        station=detector.station,
        feeds=detector.feeds,
        board=detector.board,
        input=detector.input,
        clear_after=None if detector.clear_after_ms == usual else detector.clear_after_ms,
        invert=detector.invert,
    )


def _stock(railway: Railway) -> Iterator[tuple[object, ...]]:
    for v in railway.stock.values():
        detected = None if v.detected else "no"
        tail = None if v.tail == (v.kind == "brake") else ("yes" if v.tail else "no")
        yield v.id, v.kind, v.klass, v.painted, _number(v.length_mm), " ".join(v.tags), detected, tail, v.home, v.notes


def _calls(railway: Railway) -> Iterator[tuple[object, ...]]:
    for working in railway.workings.values():
        for call in working.calls:
            rake = " ".join(working.rake) if call.index == 0 else None
            times = (_clock(call.arrive_s), _clock(call.depart_s))
            road = call.road.partition(".")[2]
            yield working.id, working.kind, working.engine, call.station, road, *times, rake, " ".join(call.wait_for)


def _clock(t_s: float | None) -> str | None:
    return None if t_s is None else f"{int(t_s) // 3600:02d}:{int(t_s) // 60 % 60:02d}"


def _moves(railway: Railway) -> Iterator[tuple[object, ...]]:
    for move in railway.moves:
        yield move.vehicle, move.from_road, move.to_road, move.working, move.call, move.load, move.notes
