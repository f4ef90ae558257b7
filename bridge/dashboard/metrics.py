"""How the service fares, for programs that watch it: `/healthz` in JSON, `/metrics` in the Prometheus text format.

Rule: everything comes from the newest picture and from what the loop has counted by itself; being asked costs the loop
nothing. Figures and no secrets: looking needs no login.

Format: Prometheus text exposition format, as its own client library writes it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from prometheus_client import CollectorRegistry, ProcessCollector, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, HistogramMetricFamily, InfoMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.registry import Collector

from bridge import __version__
from bridge.dashboard.door import Door, Fitness

STUCK_S = 10.0
"""A loop comes round every 0.25 s; one that has not for so long is stuck."""

LEVELS = ("danger", "caution", "note")
BOARD_STATES = ("heard", "lost", "not-heard")
NAME = "numbertaker"


def health(door: Door, pages: int) -> dict[str, Any]:
    """The body of `/healthz`; `ok` is false where the loop is stuck or the journal does not take what comes.

    Raises whatever the door raises.
    """
    shown, fit = door.latest(), door.fitness()
    boards = Counter(board["state"] for board in shown.snapshot.get("boards", ()))
    why = _why_not(fit)
    return {
        "ok": why is None,
        "why": why,
        "version": __version__,
        "picture": shown.version,
        "pages": pages,
        "loop_age_s": round(fit.loop_age_s, 3),
        "commit_age_s": None if fit.commits.age_s is None else round(fit.commits.age_s, 3),
        "boards": {state: boards[state] for state in BOARD_STATES},
        "links": dict(fit.links),
        "unkept": fit.unkept,
        "free_bytes": fit.free_bytes,
    }


def _why_not(fit: Fitness) -> str | None:
    if fit.loop_age_s > STUCK_S:
        return f"The loop has not come round for {fit.loop_age_s:.0f} s: it waits for the disk, or is stuck."
    if fit.unkept:
        return f"The disk does not take the journal: {fit.unkept} records wait. Make room."
    return None


class Metrics(Collector):
    """What is told at `/metrics`. `pages` says how many pages look on."""

    media_type = CONTENT_TYPE_PLAIN_0_0_4

    def __init__(self, door: Door, pages: Callable[[], int]) -> None:
        self._door = door
        self._pages = pages
        self._registry = CollectorRegistry()
        self._registry.register(self)
        ProcessCollector(registry=self._registry)

    def text(self) -> bytes:
        """Everything as of now. Raises whatever the door raises."""
        return generate_latest(self._registry)

    def describe(self) -> list[Metric]:
        """Nothing beforehand: the library would ask the door."""
        return []

    def collect(self) -> Iterator[Metric]:
        """Every family of figures; the library calls this."""
        snapshot, fit = self._door.latest().snapshot, self._door.fitness()
        yield InfoMetricFamily(NAME, "The program", {"version": __version__})
        yield from _of_links(fit)
        yield from _of_boards(snapshot)
        yield from _of_loop(fit)
        yield from _of_railway(snapshot)
        yield _gauge("pages", "Pages that look on", self._pages())


def _gauge(name: str, what: str, value: float) -> Metric:
    return GaugeMetricFamily(f"{NAME}_{name}", what, value)


def _of_links(fit: Fitness) -> Iterator[Metric]:
    lines = CounterMetricFamily(f"{NAME}_lines", "Lines of boards, by link", labels=["link"])
    for link, count in fit.lines.items():
        lines.add_metric([link], count)
    rejects = CounterMetricFamily(
        f"{NAME}_rejects", "Bytes that were no line, by link and reason", labels=["link", "reason"]
    )
    for key, count in fit.rejects.items():
        rejects.add_metric(list(key), count)
    links = GaugeMetricFamily(f"{NAME}_link_open", "1 where a port or broker is open", labels=["link"])
    for link, is_open in fit.links.items():
        links.add_metric([link], is_open)
    yield from (lines, rejects, links)


def _of_boards(snapshot: Any) -> Iterator[Metric]:
    rows = snapshot.get("boards", ())
    counts = Counter(board["state"] for board in rows)
    boards = GaugeMetricFamily(f"{NAME}_boards", "Boards, by how they are heard", labels=["state"])
    for state in BOARD_STATES:
        boards.add_metric([state], counts[state])
    missing = GaugeMetricFamily(f"{NAME}_missing_numbers", "Numbers of reports that never came", labels=["board"])
    for board in rows:
        missing.add_metric([board["id"]], board["missing"])
    yield from (boards, missing)


def _of_loop(fit: Fitness) -> Iterator[Metric]:
    yield CounterMetricFamily(f"{NAME}_loop_turns", "Times the loop came round", fit.turns)
    yield _gauge("loop_age_seconds", "Since the loop last came round", fit.loop_age_s)
    yield CounterMetricFamily(f"{NAME}_records", "Records taken into the journal", fit.records)
    yield _gauge("unkept_records", "Records taken that are not on the disk", fit.unkept)
    if fit.free_bytes is not None:
        yield _gauge("free_bytes", "Free on the disk of the store", fit.free_bytes)
    buckets, below = [], 0
    for bound_s, count in fit.commits.counts:
        below += count
        buckets.append(("+Inf" if bound_s == float("inf") else str(bound_s), float(below)))
    name, what = f"{NAME}_commit_seconds", "How long a write to the journal took"
    yield HistogramMetricFamily(name, what, buckets=buckets, sum_value=fit.commits.seconds)


def _of_railway(snapshot: Any) -> Iterator[Metric]:
    counts = Counter(item["level"] for item in snapshot.get("irregularities", ()) if item["status"] == "open")
    items = GaugeMetricFamily(f"{NAME}_open_irregularities", "Irregularities that stand, by level", labels=["level"])
    for level in LEVELS:
        items.add_metric([level], counts[level])
    yield items
    unknown = sum(detector["state"] == "unknown" for detector in snapshot.get("detectors", ()))
    yield _gauge("unknown_detectors", "Detectors of which nothing is known just now", unknown)
