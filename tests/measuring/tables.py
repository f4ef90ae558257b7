"""What was measured as Markdown: a table of the cells, freight kinds, calibration, cost.

Rule: sums of counts are shown with their shares; nothing is rounded before it is summed, and no cell is left out.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence

from .alarms import FREIGHT, LEVELS
from .cells import CELLS, Played
from .counting import BINS, Calibration, Count, Counts, added

PLACED = {
    "end all": "end: all",
    "end moved": "end: moved",
    "left all": "departures: all",
    "left moved": "departures: moved",
    "end lines": "end: lines",
    "end pairs": "end: pairs",
    "left lines": "departures: lines",
    "left pairs": "departures: pairs",
}
SAID = {"found": "planted found", "in time": "in time", "kinds wanting": "of kinds wanting"}
MOVED = {"moves known": "moves known done", "moves untrue": "said done, not so"}


def report(played: Sequence[Played]) -> str:
    """All tables."""
    parts = [cells(played), freight(played)]
    parts += [calibration(played, engine) for engine in _engines(played)]
    return "\n\n".join((*parts, cost(played))) + "\n"


def cells(played: Sequence[Played]) -> str:
    """A row for each cell and engine, then for each group of cells and for all."""
    false = [f"false {level} (taken back)" for level in LEVELS]
    head = ["cell", "engine", "evenings", *PLACED.values(), *SAID.values(), *false, "borne out otherwise", *MOVED.values()]
    rows: list[list[str]] = []
    for name, evenings in (*_by_cell(played), *_by_group(played)):
        occasions = [each for each in evenings if not each.why]
        without = len(evenings) - len(occasions)
        shown = f"{len(occasions)}" + (f" ({without} no occasion)" if without else "")
        if not occasions:
            rows.append([name, "", "no occasion", *[""] * (len(head) - 3)])
        for engine in _engines(occasions):
            counts = _counts(occasions, engine)
            rows.append([name, engine, shown, *(str(counts.get(each, Count())) for each in PLACED), *_said(counts)])
    return table(head, rows)


def _said(counts: Counts) -> list[str]:
    """The columns of an engine that says outcomes; dashes of one that does not."""
    if "found" not in counts:
        return ["-"] * (len(SAID) + len(LEVELS) + 1 + len(MOVED))
    false = [counts[f"false {level}"] for level in LEVELS]
    return [
        *(str(counts[each]) for each in SAID),
        *(f"{each.of} ({each.right})" if each.of else "0" for each in false),
        str(counts.get("aside", Count()).of),
        *(str(counts[each]) for each in MOVED),
    ]


def freight(played: Sequence[Played]) -> str:
    """Recall and precision of each freight kind, by group."""
    rows = []
    for name, evenings in _by_group(played):
        for engine in _engines(evenings):
            counts = _counts(evenings, engine)
            if "found" in counts:
                figures = [str(counts[f"{what} {kind}"]) for kind in FREIGHT for what in ("recall", "precision")]
                rows.append([name, engine, *figures])
    return table(["cells", "engine", *(f"{kind}: {what}" for kind in FREIGHT for what in ("recall", "precision"))], rows)


def calibration(played: Sequence[Played], engine: str) -> str:
    """How often each certainty was justified: a table of bins for all evenings, and the scores of each group."""
    groups = list(_by_group(played))
    scores = []
    for name, evenings in groups:
        said, held = _calibration(evenings, engine)
        scores.append([name, *_scores(said), *_scores(held)])
    said, held = _calibration(played, engine)
    bins = []
    for n, (_, name) in enumerate(BINS):
        row = [name]
        for whole in (said, held):
            each = whole.bins[n]
            row += [str(each.n), f"{each.sure / each.n:.4f}" if each.n else "-", str(Count(each.right, each.n))]
        bins.append(row)
    names = ["statements", "mean sure", "true", "held at departures", "mean sure", "true"]
    kinds = ("said", "held at departures")
    heads = ["cells", *(f"{kind}: {what}" for kind in kinds for what in ("n", "Brier", "calibration error"))]
    return f"Calibration, {engine}:\n\n{table(['sure', *names], bins)}\n\n{table(heads, scores)}"


def _scores(whole: Calibration) -> list[str]:
    return [str(whole.n), *("-" if each is None else f"{each:.4f}" for each in (whole.brier, whole.error))]


def cost(played: Sequence[Played]) -> str:
    """Microseconds of the processor that a report cost each engine, on this machine."""
    lines = []
    for engine in _engines(played):
        micros = [each for evening in played if not evening.why for each in evening.judged[engine].micros]
        if micros:
            median, worst = statistics.median(micros), max(micros)
            lines.append(f"{engine}: {median:.0f} microseconds a report in the median, {worst:.0f} at worst.")
    return "\n".join(lines)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _engines(played: Iterable[Played]) -> list[str]:
    return list(dict.fromkeys(engine for each in played for engine in each.judged))


def _by_cell(played: Sequence[Played]) -> Iterator[tuple[str, list[Played]]]:
    for name in dict.fromkeys(each.job.cell for each in played):
        yield name, [each for each in played if each.job.cell == name]


def _by_group(played: Sequence[Played]) -> Iterator[tuple[str, list[Played]]]:
    """Groups of several cells, and everything."""
    groups: dict[str, list[Played]] = {}
    for each in played:
        groups.setdefault(CELLS[each.job.cell].group, []).append(each)
    for name, evenings in groups.items():
        yield f"*all of {name}*", evenings
    yield "*all*", list(played)


def _counts(evenings: Iterable[Played], engine: str) -> Counts:
    return added(each.judged[engine].counts for each in evenings if not each.why)


def _calibration(evenings: Iterable[Played], engine: str) -> tuple[Calibration, Calibration]:
    said, held = Calibration(), Calibration()
    for each in evenings:
        if not each.why:
            said.add(each.judged[engine].said)
            held.add(each.judged[engine].held)
    return said, held


def as_json(played: Sequence[Played]) -> list[Mapping[str, object]]:
    """Every evening with all that was counted and noted. Only `micros` differ from run to run."""
    return [
        {
            "cell": each.job.cell,
            "seed": each.job.seed,
            "no_occasion": each.why,
            "names": list(each.names),
            "truth": each.truth,
            "engines": {
                name: {
                    "counts": {key: [count.right, count.of] for key, count in judged.counts.items()},
                    "said": _bins(judged.said),
                    "held": _bins(judged.held),
                    "notes": judged.notes,
                    "micros": [statistics.median(judged.micros), max(judged.micros)] if judged.micros else [],
                }
                for name, judged in each.judged.items()
            },
        }
        for each in played
    ]


def _bins(whole: Calibration) -> Mapping[str, object]:
    return {"bins": [[each.n, each.sure, each.right] for each in whole.bins], "squares": whole.squares}
