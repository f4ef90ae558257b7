"""A railway as the five texts of its folder.

Rule: what is written reads back as it was; what a folder takes for granted (fouls, defaults) is left unsaid.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from bridge.core.plan import Railway
from bridge.core.plant import Detector, Plant

STOCK = "vehicle,kind,class,painted,length,tags,detected,tail,home,notes"
WHEREABOUTS = "vehicle,road,order"
TIMETABLE = "working,kind,engine,station,road,arrive,depart,rake,wait_for"
MOVES = "vehicle,from,to,working,call,load,notes"
BROKER = {"host": "127.0.0.1", "port": 1883}


def as_texts(railway: Railway) -> dict[str, str]:
    """The files of a folder by name."""
    return {
        "railway.toml": "".join(f"{line}\n" for line in _plant(railway.plant)),
        "stock.csv": _sheet(STOCK, _stock(railway)),
        "whereabouts.csv": _sheet(WHEREABOUTS, ((s.vehicle, s.place, s.order) for s in railway.standing)),
        "timetable.csv": _sheet(TIMETABLE, _calls(railway)),
        "moves.csv": _sheet(MOVES, _moves(railway)),
    }


def _sheet(head: str, rows: Iterable[Iterable[object]]) -> str:
    return head + "\n" + "".join(",".join("" if cell is None else str(cell) for cell in row) + "\n" for row in rows)


def _value(value: object) -> str:
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    return json.dumps(value)


def _table(head: str, **keys: object) -> Iterator[str]:
    """A table with those of its keys that say something."""
    yield ""
    yield head
    for key, value in keys.items():
        if value is not None and value != () and value is not False:
            yield f"{key} = {_value(value)}"


def _plant(plant: Plant) -> Iterator[str]:
    yield f"# {plant.name}: an invented railway, grown from a seed."
    yield from _table("[railway]", id=plant.id, name=plant.name, scale=plant.scale, clock=plant.clock)
    for station in plant.stations.values():
        yield from _table("[[station]]", id=station.id, name=station.name)
        for road in (plant.roads[r] for r in station.roads):
            keys = {"id": road.name, "kind": str(road.kind), "length": road.length_mm}
            yield from _table("[[station.road]]", **keys, open=road.open, reaches=road.reaches)
        for throat in (plant.throats[f"{station.id}.{end}"] for end in ("up", "down")):
            if throat.length_mm is not None or throat.headshunt is not None:
                neck = throat.headshunt and throat.headshunt.partition(".")[2]
                yield from _table("[[station.throat]]", end=throat.end, length=throat.length_mm, headshunt=neck)
    for section in plant.sections.values():
        keys = {"id": section.id, "from": section.from_throat, "to": section.to_throat, "length": section.length_mm}
        directions = section.directions if len(section.directions) == 1 else ()
        more = {"rule": str(section.rule), "directions": directions, "minutes": dict(section.minutes)}
        yield from _table("[[section]]", **keys, **more, token_tags=section.token_tags)
    if any(board.link == "mqtt" for board in plant.boards.values()):
        yield from _table("[broker]", **BROKER)
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
        yield v.id, v.kind, v.klass, v.painted, f"{v.length_mm:g}", " ".join(v.tags), detected, tail, v.home, v.notes


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
