"""The evenings by which alerts are judged: quiet ones, with each mistake of the crews, with each fault, and with both.

Rule: an evening depends on its `Plan` alone, so it may be played in any process. Everyday noise: reads missed at the rate
that is asked for, one read in twenty said twice, garbled tags now and then, and track detectors that flicker. The core is
given the railway and the records, neither names nor rates. The seeds from `FIRST_SEED` on are for measuring alone: whoever
tunes the core takes those of `TUNING`.
"""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any

from bridge.core.plan import Railway
from bridge.service.folding import FoldError
from bridge.service.replaying import replay
from bridge.virtual.crew.mistakes import MISTAKES
from bridge.virtual.faults import FAULTS
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.railway import grow
from bridge.virtual.noise import Noise, noise_of
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage, StagingError
from bridge.wire.records import Record

from .alerts import Alerts, judged
from .cells import DEMONSTRATION, GROWN, railway_of

FIRST_SEED = 5001
TUNING = range(701, 1000)
EVERYDAY = ("missed-reads", "repeats", "ghosts", "flicker")
RAILWAYS = (DEMONSTRATION, GROWN)


@dataclass(frozen=True, slots=True)
class Plan:
    """One evening: on which railway (a name of `RAILWAYS`), what is planted (names as `--faults` takes them), and how many
    reads (0 to 1) are missed; at 0 detection is clean but for the fault."""

    railway: str
    seed: int
    mistake: str = ""
    fault: str = ""
    missed: float = 0.05

    @property
    def kind(self) -> str:
        """Of which kind it is, as tables call it."""
        return {(False, False): "quiet", (True, False): "mistake", (False, True): "fault", (True, True): "both"}[
            bool(self.mistake), bool(self.fault)
        ]


@dataclass(slots=True)
class Played:
    """What came of an evening; `why` there was no occasion for it, "" where there was. `failed`: on what the core broke off,
    "" where it did not. `layout`: how its detectors are placed (`layout_of`); `hours`: of running."""

    plan: Plan
    why: str = ""
    failed: str = ""
    layout: str = ""
    hours: float = 0.0
    alerts: Alerts = field(default_factory=Alerts)


def plans(seeds: Sequence[int], missed: Sequence[float]) -> Iterator[Plan]:
    """All evenings of these seeds. Which fault goes with which mistake changes from seed to seed, so that many come together
    with all."""
    faults = tuple(FAULTS)
    for seed in seeds:
        for railway in RAILWAYS:
            for share in missed:
                yield Plan(railway, seed, missed=share)
                yield from (Plan(railway, seed, mistake, missed=share) for mistake in MISTAKES)
                yield from (Plan(railway, seed, fault=fault, missed=share) for fault in faults)
                for n, mistake in enumerate(MISTAKES):
                    yield Plan(railway, seed, mistake, faults[(seed + 7 * n) % len(faults)], share)


def everyday(missed: float) -> Noise | None:
    """The noise of any evening at this rate; None at 0."""
    return replace(noise_of(EVERYDAY), missed_share=missed) if missed else None


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard on an evening, and the truth of it."""

    railway: Railway
    records: Sequence[Record]
    truth: dict[str, Any]


def heard(plan: Plan) -> Heard:
    """Let an evening pass; raises `StagingError` where the railway gives no occasion for what is planted."""
    railway = railway_of(plan.railway, plan.seed)
    names = [name for name in (plan.mistake, plan.fault) if name]
    evening = Stage(railway).evening(plan.seed, names, everyday(plan.missed))
    recording = Recording(evening)
    recording.run()
    return Heard(railway, recording.records, json.loads(evening.truth_json()))


def layout_of(plan: Plan) -> str:
    """The demonstration railway, or by a name of `detecting.LAYOUTS` how the owner of a grown one has placed detectors."""
    return plan.railway if plan.railway == DEMONSTRATION else grow(plan.seed, Growth(awkward_share=0.0)).layout


def play(plan: Plan) -> Played:
    """An evening, and what the core said of it held against its truth."""
    try:
        evening = heard(plan)
    except StagingError as error:
        return Played(plan, str(error))
    layout = layout_of(plan)
    try:
        said = [json.loads(json.dumps(outcome.as_dict())) for outcome in replay(evening.railway, evening.records)]
    except FoldError as error:
        return Played(plan, failed=str(error), layout=layout)
    hours = (evening.truth["end_t"] - evening.truth["begin_t"]) / 3600.0
    return Played(plan, layout=layout, hours=hours, alerts=judged(evening.truth, evening.railway, evening.records, said))


def run(evenings: Sequence[Plan], workers: int) -> list[Played]:
    """Play them, in their order."""
    if workers == 1:
        return [play(plan) for plan in evenings]
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        return list(pool.map(play, evenings, chunksize=2))
