"""The one view: a state drawn into one JSON-ready snapshot, which pages, HTTP and MQTT show as it is.

Rule: pure and without a rule of its own; every key is described in DEVELOPERS.md and is always present.
"""

from __future__ import annotations

from typing import Any

from bridge.core import item_places
from bridge.core.advice import may_go
from bridge.core.facts import Advice, Strange
from bridge.core.ledger import Item
from bridge.core.movement.trains import Phase, Train
from bridge.core.places import train_of
from bridge.core.plan import Railway
from bridge.core.plant import Detector, Section
from bridge.core.readings import stretch_state
from bridge.core.state import State
from bridge.core.wagons import call_work
from bridge.forecast.rows import Handled


def view(state: State) -> dict[str, Any]:
    """The state as one JSON-ready object."""
    railway = state.railway
    tags = _tags(state)
    rows = call_work.plan_of(state)
    return {
        "railway": None if railway is None else _railway(railway),
        "session": _session(state),
        "stations": [] if railway is None else [_station(state, railway, s) for s in railway.plant.stations],
        "sections": [] if railway is None else [_section(state, s) for s in railway.plant.sections.values()],
        "vehicles": {} if railway is None else {v: _vehicle(state, railway, v, tags.get(v, [])) for v in railway.stock},
        "trains": [_train(state, t, rows.get(t.id, ())) for t in state.roster.trains.values()],
        "moves": [_move(state, i) for i in range(len(state.freight.moves))],
        "irregularities": _irregularities(state),
        "boards": [_board(state, b) for b in (railway.plant.boards if railway is not None else ())],
        "detectors": [_detector(state, d) for d in (railway.plant.detectors.values() if railway is not None else ())],
        "strange_tags": [_strange(strange) for strange in state.strangers.values()],
    }


def _railway(railway: Railway) -> dict[str, Any]:
    plant = railway.plant
    return {"id": plant.id, "name": plant.name, "scale": plant.scale, "clock_rate": plant.clock}


def _session(state: State) -> dict[str, Any]:
    word = "running" if state.running else "ended" if state.ledger.silent else "waiting"
    return {
        "state": word,
        "clock": state.clock.text(state.t) if state.running else None,
        "clock_running": state.running and not state.clock.stopped,
        "t": state.t,
        "journal": state.journal_n,
    }


def _line(state: State, stretch: str) -> list[str]:
    return [] if state.where is None else list(state.where.line(stretch))


def _station(state: State, railway: Railway, station_id: str) -> dict[str, Any]:
    plant = railway.plant
    station = plant.stations[station_id]
    roads = []
    for road_id in station.roads:
        road = plant.roads[road_id]
        line = _line(state, road_id)
        roads.append(
            {
                "id": road.id,
                "name": road.name,
                "kind": road.kind.value,
                "length_mm": road.length_mm,
                "open": list(road.open),
                "state": stretch_state(state, road.id),
                "line": line,
                "stands_mm": sum(railway.stock[v].length_mm for v in line),
            }
        )
    throats = [
        {"id": t, "end": plant.throats[t].end, "state": stretch_state(state, t), "line": _line(state, t)}
        for t in (f"{station_id}.up", f"{station_id}.down")
    ]
    return {"id": station.id, "name": station.name, "roads": roads, "throats": throats}


def _section(state: State, section: Section) -> dict[str, Any]:
    grants = state.authorities.grants.get(section.id, {})
    return {
        "id": section.id,
        "from": section.from_throat,
        "to": section.to_throat,
        "length_mm": section.length_mm,
        "rule": section.rule.value,
        "directions": list(section.directions),
        "state": stretch_state(state, section.id),
        "line": _line(state, section.id),
        "trains": [p.train for p in state.presences.get(section.id, ()) if p.cleared is None],
        "authority": [{"train": train, "why": grant.how} for train, grant in grants.items()],
    }


def _tags(state: State) -> dict[str, list[str]]:
    """The tags of each vehicle that carries any."""
    found: dict[str, list[str]] = {}
    for tag, vehicle in sorted(state.where.tags().items()) if state.where is not None else ():
        found.setdefault(vehicle, []).append(tag)
    return found


def _strange(strange: Strange) -> dict[str, Any]:
    t, detector, _ = strange.reads[-1]
    return {"tag": strange.tag, "detector": detector, "t": t}


def _vehicle(state: State, railway: Railway, vehicle_id: str, tags: list[str]) -> dict[str, Any]:
    vehicle = railway.stock[vehicle_id]
    assert state.where is not None
    belief = state.where.belief(vehicle_id)
    return {
        "id": vehicle.id,
        "kind": vehicle.kind,
        "class": vehicle.klass,
        "painted": vehicle.painted,
        "length_mm": vehicle.length_mm,
        "place": belief.place,
        "order": belief.order,
        "fouls": list(belief.fouls),
        "train": train_of(state, vehicle_id),
        "sure": belief.sure,
        "by": belief.by,
        "tags": tags,
    }


def _hhmm(seconds: float | None) -> str | None:
    if seconds is None:
        return None
    minutes = int(seconds // 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _train(state: State, train: Train, rows: tuple[Handled, ...]) -> dict[str, Any]:
    calls = []
    for call in train.working.calls if train.working is not None else ():
        past = call.index < train.call or train.phase is Phase.ENDED
        gone = call.index == train.call and train.phase in (Phase.OUT, Phase.IN_SECTION)
        here = call.index == train.call and train.phase is Phase.AT_STATION
        word = "done" if past or gone else "here" if here else "to-come"
        row = {"station": call.station, "road": call.road, "state": word}
        work = [_task(task) for task in call_work.tasks(state, train, rows, call.index)]
        calls.append({**row, "arrive": _hhmm(call.arrive_s), "depart": _hhmm(call.depart_s), "work": work})
    current = state.roster.current(train.engine) is train
    rake = list(state.where.company(train.engine)) if current and state.where is not None else []
    going = state.advice.get(train.id) if train.phase is Phase.AT_STATION else None
    return {
        "id": train.id,
        "engine": train.engine,
        "kind": train.working.kind if train.working is not None else "",
        "state": train.phase.value,
        "station": train.station if train.phase is Phase.AT_STATION else None,
        "road": train.road if train.phase is Phase.AT_STATION else None,
        "section": train.section if train.phase in (Phase.OUT, Phase.IN_SECTION) else None,
        "call": train.call if train.working is not None else None,
        "calls": calls,
        "late": train.late_s,
        "may_go": None if going is None else _may_go(state, going),
        "rake": rake,
    }


def _task(task: call_work.Task) -> dict[str, Any]:
    return {
        "vehicle": task.vehicle,
        "does": task.does,
        "from": task.start,
        "to": task.goal,
        "state": task.state,
        "sure": task.sure,
        "behind": list(task.behind),
    }


def _may_go(state: State, advice: Advice) -> dict[str, Any]:
    return {
        "section": advice.section,
        "answer": advice.answer,
        "why": may_go.why(state, advice),
        "seconds": may_go.seconds(state, advice),
    }


def _move(state: State, index: int) -> dict[str, Any]:
    now = state.freight.moves[index]
    move = now.move
    return {
        "vehicle": move.vehicle,
        "from": move.from_road,
        "to": move.to_road,
        "working": move.working,
        "state": now.state,
        "sure": now.sure,
    }


def _irregularities(state: State) -> list[dict[str, Any]]:
    rows = list(state.ledger.items.values())[::-1]
    return [_item(state, item) for item in rows if item.open] + [_item(state, item) for item in rows if not item.open]


def _item(state: State, item: Item) -> dict[str, Any]:
    from bridge.core.irregularities import KINDS

    claim = item.claim
    return {
        "id": item.id,
        "kind": claim.kind,
        "level": claim.level or KINDS[claim.kind].level,
        "status": "open" if item.open else "ended",
        "text": claim.text,
        "do": claim.do,
        "because": list(claim.because),
        "cause": item.cause,
        "explained": item.explained,
        "acknowledged": item.acknowledged,
        "verdict": item.verdict,
        "evidence": list(claim.evidence),
        "places": list(item_places.places(state, claim)) if item.open else [],
        "t": item.t,
        "clock": item.clock,
    }


def _board(state: State, board_id: str) -> dict[str, Any]:
    assert state.railway is not None and state.conditioning is not None
    now = state.conditioning.boards.get(board_id)
    link = state.railway.plant.boards[board_id].link
    if now is None:
        return {
            "id": board_id,
            "link": link,
            "state": "not-heard",
            "boot": None,
            "last_t": None,
            "missing": 0,
            "rejected": 0,
            "unnumbered": False,
        }
    return {
        "id": board_id,
        "link": link,
        "state": "lost" if now.lost else "heard" if now.heard else "not-heard",
        "boot": now.boot,
        "last_t": now.last_t,
        "missing": sum(gap.last - gap.first + 1 for gap in now.numbering.missing),
        "rejected": now.rejected,
        "unnumbered": now.unnumbered,
    }


def _detector(state: State, detector: Detector) -> dict[str, Any]:
    assert state.conditioning is not None
    now = state.conditioning.detectors[detector.id]
    return {
        "id": detector.id,
        "kind": detector.kind.value,
        "where": item_places.place_of(detector),
        "board": detector.board,
        "input": detector.input,
        "state": now.state,
        "since": now.since_t,
        "muted": now.muted,
        "why": now.why,
    }
