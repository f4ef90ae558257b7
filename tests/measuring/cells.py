"""The cells of the trial: what kind of evening, on which railway; one evening of a cell played and judged.

Rule: an evening depends on its railway, its cell and its seed alone, so it may be played in any process. A name for which a
railway gives no occasion, or that changes neither what boards said nor what happened, makes an evening of no occasion: it
is told, and counts nowhere.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations
from pathlib import Path
from random import Random
from typing import Any

from bridge.core.plan import Railway
from bridge.folder import load, read
from bridge.virtual.crew.mistakes import MISTAKES
from bridge.virtual.faults import FAULTS
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.railway import grow
from bridge.virtual.noise import NOISES
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage, StagingError
from bridge.wire.records import Record

from .engines import TRACKERS, engines
from .judging import Judged, judge

DEMO = Path(__file__).resolve().parents[2] / "demo" / "railway"
DEMONSTRATION, GROWN = "demonstration", "grown"
CLUB_NIGHT = "club night"


@dataclass(frozen=True, slots=True)
class Cell:
    """Evenings of one kind. `names`: noise, mistakes and faults; `group`: with which others it is added up."""

    name: str
    group: str
    names: tuple[str, ...] = ()
    railway: str = DEMONSTRATION


CELLS = {
    cell.name: cell
    for cell in (
        Cell("clean", "clean"),
        *(Cell(name, "noise", (name,)) for name in NOISES),
        *(Cell(name, "mistakes", (name,)) for name in MISTAKES),
        *(Cell(name, "faults", (name,)) for name in FAULTS),
        Cell(CLUB_NIGHT, CLUB_NIGHT, ("dirty",)),
        *(
            Cell(f"{GROWN} {name or 'clean'}", GROWN, tuple(filter(None, [name])), GROWN)
            for name in ("", "missed-reads", "dirty")
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Job:
    """One evening to be played."""

    cell: str
    seed: int


@dataclass
class Played:
    """What came of it. `why` there was no occasion, "" where there was; `names`: what was planted."""

    job: Job
    why: str = ""
    names: tuple[str, ...] = ()
    truth: dict[str, Any] = field(default_factory=dict)
    judged: dict[str, Judged] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Recorded:
    lines: Sequence[str]
    records: Sequence[Record]
    truth: dict[str, Any]


def play(job: Job) -> Played:
    """Play an evening and hold each engine against it."""
    cell = CELLS[job.cell]
    railway = railway_of(cell.railway, job.seed)
    try:
        names, recorded = _recorded(railway, cell, job.seed)
    except StagingError as error:
        return Played(job, str(error))
    clean = _clean(cell.railway, job.seed) if names else None
    if clean is not None and (recorded.lines, recorded.truth["lines"]) == (clean.lines, clean.truth["lines"]):
        return Played(job, f"{', '.join(names)} made no difference to this evening.", names)
    found = judge(railway, recorded.records, recorded.truth, engines(railway, TRACKERS))
    judged = dict(zip(TRACKERS, found, strict=True))
    kept = {key: recorded.truth[key] for key in ("expected", "reasons", "faults", "moves")}
    return Played(job, "", names, kept, judged)


@lru_cache(maxsize=8)
def railway_of(name: str, seed: int) -> Railway:
    """The demonstration railway, or the one that grows from a seed with nothing awkward in its plan."""
    if name == GROWN:
        railway = read({file: text.encode() for file, text in grow(seed, Growth(awkward_share=0.0)).texts.items()}).railway
    else:
        railway = load(DEMO).railway
    assert railway is not None, f"{name} {seed} is no railway"
    return railway


def _recorded(railway: Railway, cell: Cell, seed: int) -> tuple[tuple[str, ...], _Recorded]:
    if cell.name != CLUB_NIGHT:
        return cell.names, _record(railway, cell.names, seed)
    pairs = list(combinations(MISTAKES, 2))
    Random(f"{CLUB_NIGHT} {seed}").shuffle(pairs)
    for pair in pairs:
        try:
            return (*pair, *cell.names), _record(railway, (*pair, *cell.names), seed)
        except StagingError:
            continue
    raise StagingError("No two mistakes can be made on this railway.")


def _record(railway: Railway, names: Sequence[str], seed: int) -> _Recorded:
    evening = Stage(railway).evening(seed, names)
    recording = Recording(evening)
    lines = recording.run().splitlines()[1:]
    return _Recorded(lines, recording.records, json.loads(evening.truth_json()))


@lru_cache(maxsize=8)
def _clean(name: str, seed: int) -> _Recorded:
    return _record(railway_of(name, seed), (), seed)
