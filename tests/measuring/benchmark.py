"""The benchmark's cells, and what comes of their evenings.

Rule: a cell is a `Night`; each of its evenings has a railway of its own, by its seed. What comes out does not depend on the
number of processes, but for what a report cost. The seeds from `FIRST_SEED` on are for measuring alone: whoever tunes an
engine takes those of `TUNING`, and never looks at an evening of these.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import product
from typing import Any

from bridge.service.sweeping import spare
from bridge.virtual.crew.mistakes import MistakeError

from .counting import Calibration, Counts
from .departures import run_out
from .engines import IN_FORCE, PLAN, TRACKERS, engines
from .judging import Judged, judge
from .nights import CREWS, FORGETFUL, STARTS, Night, recorded
from .yards import LAYOUTS, TRACKS

FIRST_SEED = 2001
TUNING = range(601, 700)
MISSED = (0.0, 0.02, 0.05, 0.1, 0.2)
ENGINES = (*TRACKERS, PLAN)
SLOW_US = 5000.0
TIMES_AGAIN = 2


def grid() -> Iterator[Night]:
    """Every cell."""
    for each in product(LAYOUTS, MISSED, TRACKS, STARTS, (False, True), CREWS):
        yield Night(*each)


def kept() -> list[Night]:
    """The cells of the kept table: each layout at 5 % missed, and from there along every other measure."""
    both = [Night("mouths"), Night("sidings")]
    nights = [Night(layout) for layout in LAYOUTS]
    nights += [replace(night, missed=missed) for night in both for missed in (0.0, 0.1, 0.2)]
    nights += [replace(night, tracks=tracks) for night in both for tracks in ("engines", "none")]
    nights += [replace(night, start="wrong") for night in both]
    nights += [replace(night, untagged=True) for night in both]
    return nights + [replace(night, crews=FORGETFUL) for night in both]


@dataclass(frozen=True, slots=True)
class Job:
    """One evening to be played."""

    night: Night
    seed: int


@dataclass(slots=True)
class Figures:
    """What one engine made of one evening. `reads`: microseconds of each tag read; `rest`: how many `micros` it has, their
    sum and the most; `wrong`: where it was wrong, and what it said falsely; `slow`: of reads over `SLOW_US`, what each cost,
    and the least of it and of the same read played again."""

    counts: Counts = field(default_factory=dict)
    held: Calibration = field(default_factory=Calibration)
    reads: list[float] = field(default_factory=list)
    rest: tuple[int, float, float] = (0, 0.0, 0.0)
    wrong: dict[str, Any] = field(default_factory=dict)
    slow: list[tuple[float, float]] = field(default_factory=list)


@dataclass(slots=True)
class Played:
    """What came of an evening; `why` there was no occasion for it, "" where there was. `departures`: at how many engines
    were asked, of how many that there were; `done`: moves done, of those booked."""

    job: Job
    why: str = ""
    departures: tuple[int, int] = (0, 0)
    done: tuple[int, int] = (0, 0)
    figures: dict[str, Figures] = field(default_factory=dict)


def jobs_of(nights: Iterable[Night], seeds: Sequence[int]) -> list[Job]:
    """An evening of each cell for each seed."""
    return [Job(night, seed) for night in nights for seed in seeds]


def play(job: Job, names: Sequence[str] = ENGINES) -> Played:
    """Play an evening and hold these engines against it."""
    try:
        evening = recorded(job.night, job.seed)
    except MistakeError as error:
        return Played(job, str(error))
    truth, railway = evening.truth, evening.railway
    spare()  # as the service does once everything is read
    at = run_out(truth, railway)
    judged = judge(railway, evening.records, truth, engines(railway, names), at)
    done = [move["done"] for move in truth["moves"]]
    left = sum(event["says"] == "departed" for event in truth["events"])
    figures = {name: _figures(each) for name, each in zip(names, judged, strict=True)}
    return Played(job, "", (len(at), left), (sum(done), len(done)), figures)


def _figures(judged: Judged) -> Figures:
    rest = sorted(judged.micros)
    whole = (len(rest), sum(rest), rest[-1]) if rest else (0, 0.0, 0.0)
    notes = {key: judged.notes[key] for key in ("wrong", "false") if judged.notes.get(key)}
    return Figures(judged.counts, judged.held, judged.reads, whole, notes)


def run(jobs: Sequence[Job], workers: int, names: Sequence[str] = ENGINES) -> list[Played]:
    """Play them, in the order of the jobs."""
    if workers == 1:
        return [play(job, names) for job in jobs]
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        return list(pool.map(partial(play, names=names), jobs))


def play_slow_again(played: Sequence[Played]) -> None:
    """Evenings in which a tag read cost the engine in force more than `SLOW_US` are played again, alone: what the work costs
    is the least of what the same read took, anything above that is the machine's."""
    for each in played:
        figures = each.figures.get(IN_FORCE, Figures())
        slow = [n for n, micros in enumerate(figures.reads) if micros > SLOW_US]
        if slow:
            again = [play(each.job, TRACKERS[:2]).figures[IN_FORCE].reads for _ in range(TIMES_AGAIN)]
            figures.slow = [(figures.reads[n], min(figures.reads[n], *(reads[n] for reads in again))) for n in slow]
