"""Whether detectors have told of a planted irregularity at all, and since when: what nothing told of, nobody can know.

Rule: told by what was heard and the truth alone, never by what the core made of it. A detector tells where it reports while
the thing is so: once a train has gone back unseen it is past. Of a clash, something must have told of the trains that were
in the section already, before the last one came.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf
from typing import Any

from bridge.core.plan import Railway
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record

EARLIER_S = 0.1  # a detector feels the edge of what is counted by its middle so much sooner

Row = Mapping[str, Any]


def told_t(truth: Row, railway: Railway, records: Sequence[Record], expected: Row) -> float | None:
    """When a detector by which it shows first told of it (host seconds); None where none did."""
    if expected["kind"] == "section-clash" and not _were_told_of(truth, railway, records, expected):
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
