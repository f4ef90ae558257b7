"""What each fault can strike on a railway, and what of that the plan brings into play.

Rule: a row is what one fault strikes, one thing or two. Where a fault makes no sense on a railway there are no rows.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind
from bridge.virtual.hands import choices_by_hand

Rows = list[tuple[str, ...]]


def _booked(railway: Railway) -> set[str]:
    workings = railway.workings.values()
    rakes = {vehicle for working in workings for vehicle in (working.engine, *working.rake)}
    return rakes | {move.vehicle for move in railway.moves}


def _roads_played(railway: Railway) -> set[str]:
    calls = {call.road for working in railway.workings.values() for call in working.calls}
    return calls | {road for move in railway.moves for road in (move.from_road, move.to_road)}


def _tagged(railway: Railway) -> tuple[Rows, Rows]:
    booked = _booked(railway)
    rows: Rows = [(v.id,) for v in railway.stock.values() if v.tags]
    return rows, [row for row in rows if row[0] in booked]


def _engines(railway: Railway) -> tuple[Rows, Rows]:
    rows: Rows = [(v.id,) for v in railway.stock.values() if v.kind == "engine"]
    return rows, [row for row in rows if row[0] in _booked(railway)]


def _rails(railway: Railway) -> tuple[Rows, Rows]:
    plant = railway.plant
    rows: Rows = [(stretch,) for stretch in plant.at_stretch if stretch in plant.covering]
    played = _roads_played(railway) | set(plant.sections) | set(plant.throats)
    return rows, [row for row in rows if row[0] in played]


def _of_kind(railway: Railway, *kinds: DetectorKind) -> list[Detector]:
    return [detector for detector in railway.plant.detectors.values() if detector.kind in kinds]


def _readers(railway: Railway) -> tuple[Rows, Rows]:
    played = _roads_played(railway) | set(railway.plant.sections)
    found = _of_kind(railway, DetectorKind.READER)
    near = [d for d in found if d.at is not None and railway.plant.boundaries[d.at].outer in played]
    return [(d.id,) for d in found], [(d.id,) for d in near]


def _reader_pairs(railway: Railway) -> tuple[Rows, Rows]:
    """Readers at boundaries of one throat: the plan does not say how near they are."""
    throats = {d.id: railway.plant.boundaries[d.at or ""].throat for d in _of_kind(railway, DetectorKind.READER)}
    rows: Rows = list(combinations(throats, 2))
    return rows, [(one, other) for one, other in combinations(throats, 2) if throats[one] == throats[other]]


def _inputs(railway: Railway) -> tuple[Rows, Rows]:
    kinds = (DetectorKind.TRACK, DetectorKind.TREADLE, DetectorKind.POINTS, DetectorKind.PROOF)
    near = _of_kind(railway, DetectorKind.TRACK, DetectorKind.TREADLE)
    return [(d.id,) for d in _of_kind(railway, *kinds)], [(d.id,) for d in near]


def _powers(railway: Railway) -> tuple[Rows, Rows]:
    powers: Rows = [(d.id,) for d in _of_kind(railway, DetectorKind.POWER)]
    boards: Rows = [(name,) for name in dict.fromkeys(d.board for d in _of_kind(railway, DetectorKind.TRACK))]
    return powers + boards, powers or boards


def stations_of(railway: Railway, board: str) -> set[str]:
    """The stations at which a board has a detector."""
    plant, found = railway.plant, set()
    for detector in plant.detectors.values():
        if detector.board == board:
            boundary = plant.boundaries.get(detector.at or "")
            place = boundary.throat if boundary is not None else detector.at or detector.covers or ""
            found.add(place.partition(".")[0])
    return found & set(plant.stations)


def _boards(railway: Railway) -> tuple[Rows, Rows]:
    rows: Rows = [(board,) for board in railway.plant.boards if stations_of(railway, board)]
    return rows, rows


def _on_broker(railway: Railway) -> tuple[Rows, Rows]:
    rows: Rows = [(board.id,) for board in railway.plant.boards.values() if board.link == "mqtt"]
    return rows, rows


def _wagon_pairs(railway: Railway) -> tuple[Rows, Rows]:
    wagons = [v.id for v in railway.stock.values() if v.kind == "wagon" and len(v.tags) == 1]
    booked = _booked(railway)
    rows: Rows = list(combinations(wagons, 2))
    return rows, [row for row in rows if booked.issuperset(row)]


SUBJECTS: dict[str, Callable[[Railway], tuple[Rows, Rows]]] = {
    "weak-tag": _tagged,
    "dirty-engine": _engines,
    "dirty-rail": _rails,
    "dead-reader": _readers,
    "deaf-reader": _readers,
    "slow-reader": _readers,
    "silent-reader": _readers,
    "cross-talk": _reader_pairs,
    "floating-input": _inputs,
    "power-trip": _powers,
    "brownout": _boards,
    "link-drops": _on_broker,
    "moved-by-hand": choices_by_hand,
    "misplaced": choices_by_hand,
    "swapped-tags": _wagon_pairs,
    "unlisted-tag": _tagged,
    "silent-board": _boards,
    "losing-board": _boards,
}
"""For each fault: all rows that it can strike, and those that matter on an evening."""
