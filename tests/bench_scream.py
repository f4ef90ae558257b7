"""Figures of one run on this machine, as ratios: what an input that screams does to the delay of all others.

    python3 tests/bench_scream.py                    (in the project's environment; a minute or two)
    python3 tests/bench_scream.py --seconds 20 --rounds 5

The whole service runs, with its store on the disk; lines are handed to it as a link hands them over, one at a time. Another
board reports 50 times a second; measured is from the moment at which its line is handed over until it has been journalled
and folded. Rounds with and without the scream take turns, so that both have the same machine.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from bridge.folder import FolderRead, load
from bridge.links.link import Arrival, Inbox
from bridge.service import pace
from bridge.service.core import CORE
from bridge.service.desk import Taken
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.wire.lines import HostLine, Report
from bridge.wire.records import Received, Record

RAILWAY = Path(__file__).resolve().parent / "recordings" / "railway"
EDGES_A_SECOND = 5_000
OTHERS_A_SECOND = 50
STEP_S = 0.002


class HandLink:
    """A link that brings what it is given."""

    name = "hand"
    inbox: Inbox

    def start(self, inbox: Inbox) -> None:
        """Take the inbox."""
        self.inbox = inbox
        self.is_started.set()

    def __init__(self) -> None:
        self.is_started = threading.Event()

    def stop(self) -> None:
        """Nothing is held."""

    def send(self, board: str, line: HostLine) -> bool:
        """Nobody listens."""
        return False

    def troubles(self) -> tuple[str, ...]:
        """All is well."""
        return ()


class Bench:
    """A service, the link that feeds it, and when each line of the other board was folded."""

    def __init__(self, store: Path, folder: FolderRead) -> None:
        self.store = store
        self.link = HandLink()
        self.delays: list[float] = []
        self._handed: dict[int, float] = {}
        self._seq = {"thistle": 0, "marrow": 0}
        resumed = take_up(store, folder, CORE, folder_again=lambda: folder)
        self.clock = resumed.clock
        self._take = resumed.desk.take
        resumed.desk.take = self._timed_take  # type: ignore[method-assign]
        self.service = Service(resumed, [self.link], CORE, log=lambda text: None)
        self._thread = threading.Thread(target=self.service.run)
        self._thread.start()
        self.link.is_started.wait()

    def stop(self) -> None:
        """Stop the service."""
        self.service.stop()
        self._thread.join()

    @property
    def size(self) -> int:
        """Bytes of the store."""
        return sum(path.stat().st_size for path in self.store.parent.iterdir())

    def round(self, seconds: float, screams: bool) -> list[float]:
        """The delays of the other board's lines while an input screams, or does not."""
        self.delays.clear()
        ends = time.perf_counter() + seconds
        scream = threading.Thread(target=self._every, args=(ends, STEP_S, self._scream))
        if screams:
            scream.start()
        self._every(ends, 1 / OTHERS_A_SECOND, lambda n: self._report("marrow", 2))
        if screams:
            scream.join()
        time.sleep(1.5)  # so that the round before does not count in the next
        return list(self.delays)

    def _every(self, ends: float, step_s: float, do: Callable[[int], None]) -> None:
        began, n = time.perf_counter(), 0
        while time.perf_counter() < ends:
            do(n)
            n += 1
            time.sleep(max(0.0, began + n * step_s - time.perf_counter()))

    def _scream(self, n: int) -> None:
        for _ in range(int(EDGES_A_SECOND * STEP_S)):
            self._report("thistle", 1)

    def _report(self, board: str, number: int) -> None:
        self._seq[board] = seq = self._seq[board] + 1
        number = number if board == "thistle" else 2 + seq % 3  # no input of the other comes near its own bound
        t = round(self.clock(), 6)
        line = Report(board, 5, seq, int(t * 1000) & 0xFFFF_FFFF, number, "on" if seq // 3 % 2 else "off")
        if board != "thistle":
            self._handed[seq] = time.perf_counter()
        self.link.inbox(Arrival((Received(t, "hand", line),)))

    def _timed_take(self, records: Sequence[Record]) -> list[Taken]:
        taken = self._take(records)
        now = time.perf_counter()
        for row in taken:
            line = row.record.line if isinstance(row.record, Received) else None
            if isinstance(line, Report) and (handed := self._handed.pop(line.seq, None) if line.board == "marrow" else None):
                self.delays.append(now - handed)
        return taken


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--seconds", type=float, default=8.0, help="how long a round takes")
    parser.add_argument("--rounds", type=int, default=3, help="rounds of each kind")
    arguments = parser.parse_args()
    folder = load(RAILWAY)
    print(f"{EDGES_A_SECOND:,} lines a second of one input; delay of another board's lines, {OTHERS_A_SECOND} a second\n")
    measure("as it is", folder, arguments.seconds, arguments.rounds)
    pace.BURST = pace.A_SECOND = 1e9
    measure("with nothing held down", folder, arguments.seconds, 1)


def measure(name: str, folder: FolderRead, seconds: float, rounds: int) -> None:
    """Rounds with and without the scream in turn, and their ratios."""
    quiet: list[float] = []
    loud: list[float] = []
    with tempfile.TemporaryDirectory() as place:
        bench = Bench(Path(place) / "bench.store", folder)
        try:
            grown = 0
            for _ in range(rounds):
                quiet += bench.round(seconds, screams=False)
                before = bench.size
                loud += bench.round(seconds, screams=True)
                grown += bench.size - before
        finally:
            bench.stop()
    half = [statistics.median(delays) for delays in (quiet, loud)]
    worst = [statistics.quantiles(delays, n=100)[98] for delays in (quiet, loud)]
    print(f"{name}: {len(quiet)} lines in quiet, {len(loud)} while it screams")
    print(f"  half of them within  {half[0] * 1e3:7.2f} ms   {half[1] * 1e3:7.2f} ms   {half[1] / half[0]:6.2f} x")
    print(f"  99 of 100 within     {worst[0] * 1e3:7.2f} ms   {worst[1] * 1e3:7.2f} ms   {worst[1] / worst[0]:6.2f} x")
    print(f"  the journal grows by {grown / (rounds * seconds) * 600 / 1e6:.1f} MB in ten minutes of it\n")


if __name__ == "__main__":
    main()
