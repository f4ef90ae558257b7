"""Many evenings at once: which are played for which cells, and by how many processes.

Rule: what comes out does not depend on the number of workers, but for what a report cost.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor

from .cells import CELLS, GROWN, Job, Played, play

FIRST_GROWN = 501


def jobs_of(cells: Iterable[str], seeds: Sequence[int], grown: int) -> list[Job]:
    """The evenings of these cells: on the demonstration railway one a seed, and on so many grown railways one each."""
    grown_seeds = range(FIRST_GROWN, FIRST_GROWN + grown)
    return [Job(name, seed) for name in cells for seed in (grown_seeds if CELLS[name].railway == GROWN else seeds)]


def run(jobs: Sequence[Job], workers: int) -> list[Played]:
    """Play them, in the order of the jobs."""
    if workers == 1:
        return [play(job) for job in jobs]
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        return list(pool.map(play, jobs))
