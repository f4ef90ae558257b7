"""Fifty pages look on, ten of which have stopped reading: what boards say is taken as before, and nothing grows.

    python3 tests/clients.py                         (in the project's environment; some two minutes)
    python3 tests/clients.py --rounds 6 --seconds 15 --pages 50 --frozen 10

The whole bridge is real (`numbertaker run`, its journal on the disk), and so are Mosquitto and the boards' lines on it, 50
reports a second. Rounds without and with pages take turns, so that both have the same machine. A report's delay is from its
line being handed to the broker until what the bridge says of it (`says/observed`) has come back: received, journalled,
folded, said. The pages that read are a process of their own.

To hold: as many reports a second are taken as without pages, and half of them as soon, within 10 in 100 (`--within 0`: only
printed); every number is in the journal; who has stopped reading is cut off within 10 s, nobody else is; memory is bounded:
all pages together cost no more than half a megabyte each, and later rounds no more than the first. Exit status 1 otherwise.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from trials.crowd import Frozen, Readers
from trials.hearer import Hearer
from trials.wide_layout import WideLayout

A_SECOND = 50.0
DROPPED_S = 10.0
EACH_MB = 0.5
GROWS_MB = 8.0
STEP_S = 0.25
FIRST = 150
"""Reports before anything is measured: what boards state at the beginning is no part of it."""
MB = 1e6


@dataclass
class Round:
    """What one round has shown: reports taken a second, their delays in milliseconds, the most memory in megabytes, and of
    one processor the share that the bridge used."""

    taken: float
    delays: list[float]
    most_mb: float
    used: float


@dataclass
class Trial:
    """All rounds."""

    layout: WideLayout
    hearer: Hearer
    pages: int
    frozen: int
    quiet: list[Round] = field(default_factory=list)
    crowded: list[Round] = field(default_factory=list)
    dropped_s: list[float] = field(default_factory=list)
    stopped: int = 0
    lost_readers: int = 0
    least_pictures: list[int] = field(default_factory=list)

    def run(self, rounds: int, seconds: float) -> None:
        """Rounds without and with pages in turn."""
        self.layout.boards.go(A_SECOND)
        while len(self.layout.boards.sent) < FIRST:
            time.sleep(STEP_S)
        for _ in range(rounds):
            self.quiet.append(self._round(seconds, None))
            self.crowded.append(self._with_pages(seconds))
        self.layout.boards.go(0)

    def _with_pages(self, seconds: float) -> Round:
        readers = Readers(self.layout.url, self.pages - self.frozen)
        frozen = Frozen(self.layout.url, self.frozen)
        found = self._round(seconds, frozen)
        self.dropped_s += frozen.dropped_s
        self.stopped += frozen.count
        frozen.leave()
        told = readers.leave()
        self.lost_readers += self.pages - self.frozen - told["open"]
        self.least_pictures.append(told["least"])
        return found

    def _round(self, seconds: float, frozen: Frozen | None) -> Round:
        began, most = time.time(), 0.0
        before, used = taken(self.layout), processor_s(self.layout.pid)
        started = time.monotonic()
        while time.monotonic() < started + seconds:
            time.sleep(STEP_S)
            most = max(most, resident_mb(self.layout.pid))
            there = int(self.layout.figure("numbertaker_pages"))
            if frozen is not None:
                frozen.look(there - (self.pages - self.frozen))
        passed_s = time.monotonic() - started
        after, used = taken(self.layout), processor_s(self.layout.pid) - used
        delays = self.hearer.delays_ms(self.layout.boards.sent, began)
        return Round((after - before) / passed_s, delays, most, used / passed_s)


def taken(layout: WideLayout) -> int:
    """Records taken into the journal so far."""
    return int(layout.figure("numbertaker_records_total"))


def resident_mb(pid: int) -> float:
    """Memory of a process that is really there."""
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / MB


def processor_s(pid: int) -> float:
    """Seconds of a processor that a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def judged(trial: Trial, within: float) -> list[str]:
    """Print the figures; what is not as it has to be."""
    rates = [statistics.mean(one.taken for one in rounds) for rounds in (trial.quiet, trial.crowded)]
    delays = [[delay for one in rounds for delay in one.delays] for rounds in (trial.quiet, trial.crowded)]
    halves = [statistics.median(those) for those in delays]
    worst = [statistics.quantiles(those, n=20)[18] for those in delays]
    used = [statistics.mean(one.used for one in rounds) * 100 for rounds in (trial.quiet, trial.crowded)]
    most = [[one.most_mb for one in rounds] for rounds in (trial.quiet, trial.crowded)]
    dropped = trial.dropped_s
    missing = sum(board["missing"] for board in trial.layout.snapshot()["boards"])
    print(f"taken a second  {rates[0]:7.1f} without, {rates[1]:7.1f} with {trial.pages} pages  {rates[1] / rates[0]:5.2f} x")
    print(f"half within     {halves[0]:7.1f} ms       {halves[1]:7.1f} ms             {halves[1] / halves[0]:5.2f} x")
    print(f"95 of 100       {worst[0]:7.1f} ms       {worst[1]:7.1f} ms             {worst[1] / worst[0]:5.2f} x")
    print(f"of a processor  {used[0]:7.1f} %        {used[1]:7.1f} %              {used[1] / used[0]:5.2f} x")
    print(f"memory          {max(most[0]):7.1f} MB       {max(most[1]):7.1f} MB; round by round {_list(most[1])}")
    cut = f"{min(dropped):.1f} to {max(dropped):.1f} s" if dropped else "never"
    print(f"stopped reading {trial.stopped}, cut off {len(dropped)}, after {cut}; others cut off {trial.lost_readers}")
    print(f"pictures of the page that got fewest, round by round: {trial.least_pictures}; numbers missing {missing}")
    wrong = []
    if within and not 1 - within / 100 <= rates[1] / rates[0]:
        wrong.append("fewer reports are taken with pages than without")
    if within and halves[1] / halves[0] > 1 + within / 100:
        wrong.append("reports take longer with pages than without")
    if len(dropped) < trial.stopped or max(dropped, default=0.0) > DROPPED_S:
        wrong.append(f"not all that stopped reading were cut off within {DROPPED_S:.0f} s")
    if trial.lost_readers:
        wrong.append(f"{trial.lost_readers} that read were cut off")
    if max(most[1]) - min(most[0]) > EACH_MB * trial.pages:
        wrong.append("pages cost more memory than half a megabyte each")
    if most[1][-1] - most[1][0] > GROWS_MB:
        wrong.append("memory grows from round to round")
    if missing or min(trial.least_pictures) == 0:
        wrong.append("something was lost: numbers, or a page without a picture")
    return wrong


def _list(figures: list[float]) -> str:
    return " ".join(f"{figure:.1f}" for figure in figures)


def main() -> int:
    """Run the trial."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--rounds", type=int, default=4, help="of each kind")
    parser.add_argument("--seconds", type=float, default=12.0, help="of a round; below 10 nobody can be cut off in time")
    parser.add_argument("--pages", type=int, default=50)
    parser.add_argument("--frozen", type=int, default=10)
    parser.add_argument("--within", type=float, default=10.0, help="in 100, for rate and delay; 0: these are not judged")
    arguments = parser.parse_args()
    program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if program is None:
        parser.error("this needs the program mosquitto: sudo apt-get install mosquitto")
    with tempfile.TemporaryDirectory() as home:
        layout = WideLayout(Path(home), program)
        try:
            hearer = Hearer(layout)
            trial = Trial(layout, hearer, arguments.pages, arguments.frozen)
            trial.run(arguments.rounds, arguments.seconds)
            hearer.stop()
            wrong = judged(trial, arguments.within)
        finally:
            layout.close()
    for line in wrong:
        print(f"WRONG: {line}")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
