"""The benchmark's figures as Markdown: what is right, freight, certainty, cost.

Rule: sums of counts are shown with their shares; nothing is rounded before it is summed, and no cell is left out.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict
from itertools import product
from typing import TypeVar

from .alarms import FREIGHT
from .benchmark import ENGINES, SLOW_US, TIMES_AGAIN, Played
from .counting import BINS, Calibration, Count, Counts, added
from .engines import FORMER, IN_FORCE, PLAN, TOGGLE, TRACKERS
from .nights import Night
from .tables import table
from .yards import LAYOUTS

RIGHT = {
    "end all": "end: road",
    "left all": "departures: road",
    "left moved": "of those moved",
    "left station": "station",
    "left pairs": "pairs in order",
    "left lines": "lines in order",
}
COST = (
    "Microseconds of the processor for a tag read. All else: of the engine in force the fold of every report with all rules"
    " of the core; of the former one everything else that it was given; of the toggle tracker every report."
)
K = TypeVar("K")
SURE = 2  # the bins of statements at 0.99 or above


def report(played: Sequence[Played]) -> str:
    """All tables."""
    parts = [evenings(played), right(played), freight(played), certainty(played)]
    parts += [reliability(played, engine) for engine in (IN_FORCE, FORMER)]
    return "\n\n".join((*(part for part in parts if part), cost(played))) + "\n"


def named(night: Night) -> str:
    """A cell in words: its layout, how many reads are missed, and what else is not as in the main column."""
    words = [night.layout, f"{100 * night.missed:.0f} % missed"]
    words += [] if night.tracks == "all" else [f"track detectors {night.tracks}"]
    words += [] if night.start == "exact" else [f"start {night.start}"]
    words += ["a tenth untagged"] if night.untagged else []
    words += [] if night.crews == "booked" else [f"crews {night.crews}"]
    return ", ".join(words)


def evenings(played: Sequence[Played]) -> str:
    """What was played in each cell."""
    rows = []
    for night, these in _by_night(played):
        occasions = [each for each in these if not each.why]
        left = Count(*map(sum, zip(*(each.departures for each in occasions), strict=True))) if occasions else Count()
        done = Count(*map(sum, zip(*(each.done for each in occasions), strict=True))) if occasions else Count()
        rows.append([named(night), str(len(occasions)), str(len(these) - len(occasions)), str(left), str(done)])
    return table(["cell", "evenings", "without occasion", "departures asked at", "booked moves done"], rows)


def right(played: Sequence[Played]) -> str:
    """A row for each cell and engine: what was believed where it was."""
    rows = []
    for night, these in _by_night(played):
        for engine in ENGINES:
            counts = _counts(these, engine)
            rows.append([named(night), engine, *(_share(counts.get(key, Count())) for key in RIGHT)])
    return table(["cell", "engine", *RIGHT.values()], rows)


def freight(played: Sequence[Played]) -> str:
    """Recall and precision of each freight irregularity, of engines that say any."""
    figures = list(product(FREIGHT, ("recall", "precision")))
    rows = []
    for night, these in _by_night(played):
        for engine in ENGINES:
            counts = _counts(these, engine)
            if "found" in counts:
                rows.append([named(night), engine, *(str(counts[f"{what} {kind}"]) for kind, what in figures)])
    return table(["cell", "engine", *(f"{kind}: {what}" for kind, what in figures)], rows)


def certainty(played: Sequence[Played]) -> str:
    """How sure engines were at departures, and how rightly; of the plan alone also the Brier score of the one certainty
    that would have been the best for it."""
    rows = []
    for night, these in _by_night(played):
        best = _best_of_plan(_counts(these, PLAN)["left all"]) if any(not each.why for each in these) else "-"
        for engine in ENGINES:
            held = _held(these, engine)
            if engine != PLAN:
                sure = Count(sum(each.n for each in held.bins[:SURE]), held.n)
                of_sure = Count(sum(each.n - each.right for each in held.bins[:SURE]), sure.right)
                surest = Count(held.bins[0].n - held.bins[0].right, held.bins[0].n)
                rows.append([named(night), engine, str(held.n), _share(sure), str(of_sure), str(surest), *_scores(held)])
            else:
                rows.append([named(night), engine, str(held.n), "", "", "", f"{_scores(held)[0]} (at best {best})", ""])
    head = ["cell", "engine", "statements", ">= 0.99", "of these wrong", ">= 0.999 and wrong", "Brier", "calibration error"]
    return table(head, rows)


def _best_of_plan(count: Count) -> str:
    return "-" if count.share is None else f"{count.share * (1.0 - count.share):.4f}"


def reliability(played: Sequence[Played], engine: str) -> str:
    """For each layout, over all its cells: statements in each bin, how sure they were on the average, how many were true."""
    layouts = [layout for layout in LAYOUTS if any(each.job.night.layout == layout for each in played)]
    wholes = [_held([each for each in played if each.job.night.layout == layout], engine) for layout in layouts]
    rows = []
    for n, (_, name) in enumerate(BINS):
        bins = [whole.bins[n] for whole in wholes]
        rows.append([name, *(f"{b.n}: {b.sure / b.n:.4f}, true {b.right / b.n:.4f}" if b.n else "-" for b in bins)])
    return f"Reliability, {engine}, at departures (statements: mean certainty, share that was true):\n\n" + table(
        ["sure", *layouts], rows
    )


def cost(played: Sequence[Played]) -> str:
    """Microseconds of the processor: of a tag read to each inference alone, and of all else that it was given."""
    rows = []
    for name, these in _by(played, lambda each: each.job.night.layout):
        toggle = statistics.median(_reads(these, TOGGLE) or [1.0])
        for engine in TRACKERS:
            reads = sorted(_reads(these, engine))
            if reads:
                median, rest = statistics.median(reads), [each.figures[engine].rest for each in these if each.figures]
                of_reads = (len(reads), median, reads[int(0.95 * len(reads))], reads[-1], median / toggle)
                of_rest = (sum(whole for _, whole, _ in rest) / sum(n for n, _, _ in rest), max(worst for *_, worst in rest))
                rows.append([name, engine, *(f"{figure:.0f}" for figure in (*of_reads, *of_rest))])
    head = [
        "layout",
        "engine",
        "tag reads",
        "median",
        "95 %",
        "worst",
        "times the toggle tracker",
        "all else: mean",
        "worst",
    ]
    return f"{COST}\n\n{table(head, rows)}\n\n{_slow(played)}"


def _slow(played: Iterable[Played]) -> str:
    slow = sorted((pair for each in played if each.figures for pair in each.figures[IN_FORCE].slow), reverse=True)
    words = f"Reads that cost the engine in force more than {SLOW_US / 1000.0:.0f} ms: {len(slow)}."
    if not slow:
        return words
    each = "; ".join(f"{first:.0f}, {least:.0f}" for first, least in slow)
    return f"{words} Each, and the least of it and of the same read played {TIMES_AGAIN} times more, alone: {each}."


def _share(count: Count) -> str:
    return "-" if count.share is None else f"{100.0 * count.share:.1f} %"


def _scores(whole: Calibration) -> list[str]:
    return ["-" if each is None else f"{each:.4f}" for each in (whole.brier, whole.error)]


def _reads(played: Iterable[Played], engine: str) -> list[float]:
    return [micros for each in played if each.figures for micros in each.figures[engine].reads]


def _counts(played: Iterable[Played], engine: str) -> Counts:
    return added(each.figures[engine].counts for each in played if each.figures)


def _held(played: Iterable[Played], engine: str) -> Calibration:
    held = Calibration()
    for each in played:
        if each.figures:
            held.add(each.figures[engine].held)
    return held


def _by_night(played: Sequence[Played]) -> list[tuple[Night, list[Played]]]:
    return _by(played, lambda each: each.job.night)


def _by(played: Sequence[Played], key: Callable[[Played], K]) -> list[tuple[K, list[Played]]]:
    return [(one, [each for each in played if key(each) == one]) for one in dict.fromkeys(map(key, played))]


def as_json(played: Sequence[Played]) -> list[Mapping[str, object]]:
    """Every evening with all that was counted, and where engines were wrong."""
    return [
        {
            "night": asdict(each.job.night),
            "seed": each.job.seed,
            "no_occasion": each.why,
            "departures": each.departures,
            "done": each.done,
            "engines": {
                name: {
                    "counts": {key: [count.right, count.of] for key, count in figures.counts.items()},
                    "held": {"bins": [[b.n, b.sure, b.right] for b in figures.held.bins], "squares": figures.held.squares},
                    "wrong": figures.wrong,
                    "reads": [round(micros, 1) for micros in figures.reads],
                    "slow": figures.slow,
                    "rest": figures.rest,
                }
                for name, figures in each.figures.items()
            },
        }
        for each in played
    ]
