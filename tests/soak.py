"""Weeks of evenings in one process: what grows, what leaks, what is believed that is not so.

    python3 tests/soak.py --days 30 --reports 10000000     (in the project's environment; an hour and more)

The whole service with its real store, on clocks that are turned: days of evenings on the demonstration railway, with a few
onlookers. In three of four evenings boards fall silent, start anew and lose reports, wires repeat, delay, garble and close,
the time of day is set, operators meddle, all by the seed; once a day the service is stopped in the midst and started again.

To hold: the memory of the process stays as it is after the first day, and so do its open handles; at the end of every
evening no section holds a train that is not there; in the evenings in which nothing goes wrong nothing is said to be wrong
and every vehicle is where it is believed; and the store grows as was forecast from its first tenth. Exit status 1 where one
of them does not. SIGTERM, as `timeout` sends it, ends it after the day: what there is by then is judged.
"""

from __future__ import annotations

import argparse
import gc
import os
import signal
import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from trials.evenings import railway_in
from trials.layout import Evening, Layout

from bridge.service.core import CORE
from bridge.service.resuming import take_up

DAY_S = 86_400.0
FLICKERS = 210.0
"""Drop-outs of track detectors a minute in evenings with faults, as over dirty wheels: two reports each, for 22 minutes."""
REPORTS = 7_600
"""Of an evening, on the average: 10,000 of one with so many of them, 600 of one without."""
WARM = 0.1
"""The part of the evenings behind which memory has to stay as it is."""
MOST_MB_A_DAY = 0.5
FORECAST = 0.1
MEMORY_DISK = Path("/dev/shm")


@dataclass(frozen=True)
class Sample:
    """The process after an evening."""

    day: float
    memory_mb: float
    handles: int


def main() -> int:
    """Work the days and print what they came to; 1 where something grew, leaked or was believed wrongly."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--reports", type=int, default=10_000_000)
    parser.add_argument("--seed", type=int, default=1, help="of the evenings and of what goes wrong")
    parser.add_argument("--trace", action="store_true", help="say where memory was taken that is still held (slow)")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=memory_disk()) as home:
        return Soak(Path(home), arguments.days, arguments.reports, arguments.seed, arguments.trace).run()


def memory_disk() -> Path | None:
    """Where files cost no waiting for a disk: how long one takes is not what is looked for here."""
    return MEMORY_DISK if os.access(MEMORY_DISK, os.W_OK) else None


class Soak:
    """One soak in a folder of its own."""

    def __init__(self, home: Path, days: int, reports: int, seed: int, trace: bool) -> None:
        self._evenings = max(days, round(reports / REPORTS))
        self._days, self._trace = days, trace
        folder, self._read = railway_in(home)
        self._layout = Layout(home, folder, self._read, seed=seed, flickers=FLICKERS)
        self._samples: list[Sample] = []
        self._sizes: list[tuple[int, int]] = []
        self._began = time.monotonic()
        self._first: tracemalloc.Snapshot | None = None
        self._is_enough = False
        signal.signal(signal.SIGTERM, lambda *_: self.stop())

    def stop(self) -> None:
        """End it after this day: what there is by then is judged."""
        self._is_enough = True

    def run(self) -> int:
        """All days; then what they came to."""
        if self._trace:
            tracemalloc.start(8)
        for day in range(self._days):
            tenths = [self._evenings * n // self._days for n in (day, day + 1)]
            self._layout.rest((day + 1) * DAY_S + 8 * 3600.0)
            self._layout.work(tenths[1] - tenths[0], self._sample)
            self._sizes.append((self._layout.lines, self._layout.store.stat().st_size))
            if self._is_enough:
                break
        return self._judge()

    def _sample(self, evening: Evening) -> None:
        gc.collect()
        self._samples.append(Sample(self._layout.clock.t / DAY_S, _memory_mb(), _handles()))
        if self._trace and self._first is None and evening.number > self._evenings * WARM:
            self._first = tracemalloc.take_snapshot()
        if sys.stderr.isatty():
            last = self._samples[-1]
            print(f"\r{evening.number}/{self._evenings}  {last.memory_mb:.1f} MB", end="", file=sys.stderr, flush=True)

    def _judge(self) -> int:
        layout, took_s = self._layout, time.monotonic() - self._began
        days, evenings = len(self._sizes), len(layout.evenings)
        print(f"{days} days, {evenings} evenings, {layout.reports:,} reports, {layout.lines:,} lines")
        worked_s = time.process_time()
        print(f"  {took_s:,.0f} s, {worked_s:,.0f} of them at work: {layout.lines / worked_s:,.0f} lines/s")
        print(f"  the service was started {layout.starts} times")
        wrong = self._memory() + self._handles() + self._beliefs() + self._store()
        if self._trace and self._first is not None:
            for row in tracemalloc.take_snapshot().compare_to(self._first, "lineno")[:15]:
                print(f"  {row}")
        for line in wrong:
            print(f"WRONG: {line}")
        return int(bool(wrong))

    def _memory(self) -> list[str]:
        warm = self._samples[int(len(self._samples) * WARM) :]
        slope = _slope([(sample.day, sample.memory_mb) for sample in warm])
        low, high = min(s.memory_mb for s in warm), max(s.memory_mb for s in warm)
        print(f"  memory {low:.1f} to {high:.1f} MB after the first tenth, {slope:+.3f} MB a day")
        return [] if slope <= MOST_MB_A_DAY else [f"memory grows by {slope:.2f} MB a day"]

    def _handles(self) -> list[str]:
        counts = sorted({sample.handles for sample in self._samples})
        print(f"  open handles at the end of an evening: {', '.join(map(str, counts))}")
        return [] if len(counts) == 1 else [f"open handles vary: {counts}"]

    def _beliefs(self) -> list[str]:
        clean = [evening for evening in self._layout.evenings if not evening.faults]
        others = [evening for evening in self._layout.evenings if evening.faults]
        for name, evenings in (("with faults", others), ("without", clean)):
            faults, raised = Counter[str](), Counter[str]()
            for evening in evenings:
                faults.update(evening.faults)
                raised.update(evening.raised)
            misplaced = sum(evening.misplaced for evening in evenings)
            phantoms = sum(len(evening.phantoms) for evening in evenings)
            print(f"  {len(evenings)} evenings {name}: {_listed(faults)}")
            print(f"    said: {_listed(raised)}")
            print(f"    at their ends {phantoms} trains in sections that were not there, {misplaced} vehicles elsewhere")
        return [line for evening in self._layout.evenings for line in _wrong(evening)]

    def _store(self) -> list[str]:
        (early_lines, early_bytes), (lines, size) = self._sizes[max(0, len(self._sizes) // 10 - 1)], self._sizes[-1]
        forecast, got = early_bytes / early_lines, size / lines
        began = time.perf_counter()
        clock = self._layout.clock
        resumed = take_up(
            self._layout.store, self._read, CORE, folder_again=lambda: None, monotonic=clock.monotonic, wall=clock.wall
        )
        took_s = time.perf_counter() - began
        resumed.desk.close()
        print(f"  store {size / 1e6:,.1f} MB, {got:.1f} bytes a line; forecast from the first tenth {forecast:.1f}")
        print(f"  a start behind all that takes {took_s:.3f} s")
        return [] if abs(got / forecast - 1.0) <= FORECAST else [f"{got:.1f} bytes a line, forecast were {forecast:.1f}"]


def _wrong(evening: Evening) -> list[str]:
    wrong = [f"evening {evening.number} ends with {what}, which is not there {evening.faults}" for what in evening.phantoms]
    if not evening.faults and (evening.raised or evening.misplaced):
        raised = _listed(evening.raised)
        wrong.append(f"evening {evening.number} without a fault: said {raised}; {evening.misplaced} vehicles elsewhere")
    return wrong


def _memory_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


def _handles() -> int:
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def _slope(points: list[tuple[float, float]]) -> float:
    """By least squares."""
    mean_x, mean_y = (sum(row[n] for row in points) / len(points) for n in (0, 1))
    spread = sum((x - mean_x) ** 2 for x, _ in points)
    return sum((x - mean_x) * (y - mean_y) for x, y in points) / spread if spread else 0.0


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{count} {name}" for name, count in sorted(counts.items())) or "nothing"


if __name__ == "__main__":
    sys.exit(main())
