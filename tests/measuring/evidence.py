"""Whether detectors have told of a planted irregularity at all, and since when: what nothing told of, nobody can know.

Rule: told by what was heard and the truth alone, never by what the core made of it. A detector tells where it reports while
the thing is so: once a train has gone back unseen it is past. Of a clash, something must have told of the trains that were
in the section already, before the last one came. Of a train divided, something must have told that it came out, and one of
the contract's three signs must be there to be had: what it left works the section's detector, a tail treadle stands where it
came out, or a reader that would have read two of those it left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record

EARLIER_S = 0.1  # a detector feels the edge of what is counted by its middle so much sooner

Row = Mapping[str, Any]


def told_t(truth: Row, railway: Railway, records: Sequence[Record], expected: Row) -> float | None:
    """When a detector by which it shows first told of it (host seconds); None where none did."""
    asked = {"section-clash": _were_told_of, "train-divided": _shows_short}.get(expected["kind"])
    if asked is not None and not asked(truth, railway, records, expected):
        return None
    return _first_t(railway, records, expected["by"], expected["evidence_t"] - EARLIER_S, _past_t(truth, expected))


def _were_told_of(truth: Row, railway: Railway, records: Sequence[Record], expected: Row) -> bool:
    """Whether something at the section has told of each of the other trains since that came in."""
    subject, met_t = expected["subject"], expected["evidence_t"]
    plant, section = railway.plant, subject["section"]
    at_ends = [d for b in plant.at_stretch[section] for d in plant.standing_at.get(b.id, ())]
    about = [d.id for d in (*plant.covering.get(section, ()), *at_ends)]
    others = [train for train in subject.get("trains", ()) if train != subject["train"]]
    came = [_came_in_t(truth, section, train, met_t) for train in others]
    return all(_first_t(railway, records, about, t - EARLIER_S, met_t) is not None for t in came)


def _came_in_t(truth: Row, section: str, train: str, met_t: float) -> float:
    """Since when a train has been in a section without a break, as another came in."""
    since_t = met_t
    for t, _, trains, _ in reversed([row for row in truth["sections"] if row[1] == section and row[0] <= met_t]):
        if train not in trains:
            break
        since_t = t
    return since_t


def _shows_short(truth: Row, railway: Railway, records: Sequence[Record], expected: Row) -> bool:
    """Whether something told that a train came out of a section, and something could show that it was not all of it."""
    plant, stock, subject, t = railway.plant, railway.stock, expected["subject"], expected["evidence_t"]
    section, engine = plant.sections[subject["section"]], railway.workings[subject["train"]].engine
    moved = [row for row in truth["movement"] if row[0] <= t + EARLIER_S]
    came_t, throat = next(
        (row[0], row[3]) for row in reversed(moved) if row[1:3] == [engine, "in"] and row[3] in section.throats
    )
    inside = {row[1]: row[2] for row in moved if row[3] == section.id}
    left = [stock[vehicle] for vehicle, way in inside.items() if way == "in"]
    end = next(b.id for b in plant.at_stretch[section.id] if b.throat == throat)
    at_end = plant.standing_at.get(end, ())
    here = plant.stretches_of(plant.station_of(throat))
    mouths = [d for b in plant.boundaries.values() if b.throat == throat for d in plant.standing_at.get(b.id, ())]
    tells = [d.id for d in (*(d for s in here for d in plant.covering.get(s, ())), *mouths) if d.sees != "tail"]
    if _first_t(railway, records, tells, came_t - EARLIER_S, expected["due_t"]) is None:
        return False
    works = bool(plant.covering.get(section.id)) and any(vehicle.detected for vehicle in left)
    has_reader = any(d.kind is DetectorKind.READER for d in at_end)
    return works or any(d.sees == "tail" for d in at_end) or (has_reader and sum(bool(v.tags) for v in left) > 1)


def _past_t(truth: Row, expected: Row) -> float:
    """From when it is so no longer; never, of what is not of a section."""
    subject = expected["subject"]
    rows = [row for row in truth["sections"] if row[1] == subject.get("section") and row[0] > expected["evidence_t"]]
    return next((t for t, _, trains, loose in rows if not _is_so(expected["kind"], subject, trains, loose)), inf)


def _is_so(kind: str, subject: Row, trains: Sequence[str], loose: Sequence[str]) -> bool:
    if kind == "section-clash":
        return len(trains) + bool(loose) > 1
    if kind in ("train-divided", "unexplained-occupation"):
        return bool(loose) or subject.get("train") in trains
    return subject.get("train") in trains


def _first_t(
    railway: Railway, records: Sequence[Record], detectors: Iterable[str], since_t: float, until_t: float
) -> float | None:
    """When any of these detectors first reported anything between two moments."""
    inputs = {(d.board, d.input) for d in map(railway.plant.detectors.__getitem__, detectors)}
    for record in records:
        line = record.line if isinstance(record, Received) and since_t <= record.t < until_t else None
        if isinstance(line, Report) and (line.board, line.input) in inputs:
            return record.t
    return None
