"""Figures of one run on this machine, as ratios: what the whole bridge costs against loops that do almost nothing, and
whether a larger railway makes a line dearer.

    python3 tests/bench.py              (in the project's environment; a few minutes)
    python3 tests/bench.py --seconds 5

Rule: nothing is compared with a figure from another machine or another day. A railway N times as large is N copies of one in
one plant, every copy working its own evening at the same time: of the demonstration railway, and of a small one that is
grown, of 10 stretches and 100 vehicles. Loops that wait for the disk are measured by the clock, replays by the processor
time they take.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

import larger
from measuring.yards import YARD

from bridge.core.plan import Railway
from bridge.folder import FolderRead, load, read
from bridge.journal import Journal, Moment
from bridge.service.core import CORE
from bridge.service.desk import Desk
from bridge.service.folding import Evening
from bridge.service.sweeping import spare
from bridge.virtual.crew.company import begin_s, company
from bridge.virtual.evening import Evening as Worked
from bridge.virtual.growing.railway import grow
from bridge.virtual.recording import Recording
from bridge.virtual.script import Script
from bridge.virtual.staging import stage
from bridge.wire.capture import CaptureFault, format_record, read_capture
from bridge.wire.encode import encode
from bridge.wire.lines import Reject
from bridge.wire.parser import parse_board_line
from bridge.wire.records import Received, Record

DEMO = Path(__file__).resolve().parent.parent / "demo" / "railway"
A_COMMIT = 20
"""Lines a commit, in the bare insert loop and in the bridge alike: as many as a broker hands over before it waits."""

CHUNK_BYTES = 4096
AT_ONCE = 256
"""Records made before so many are followed."""

TIMES = (1, 31, 213)
TIMES_SMALL = (1, 10, 100)
SEED = 16
SMALL = replace(YARD, stations=(2, 2), sidings=(0, 1), siding_mm=(10_000.0, 11_000.0), wagons=(91, 91))


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--seconds", type=float, default=20.0, help="the longest that one size is replayed")
    parser.add_argument("--runs", type=int, default=3, help="runs of each loop; the middle one counts")
    arguments = parser.parse_args()
    folder = load(DEMO)
    assert folder.railway is not None
    records = evening(folder.railway)
    print(f"{len(records):,} lines of the demonstration evening; {A_COMMIT} lines a commit, on the disk before it returns\n")
    loops(folder, records, arguments.runs)
    print("replay of N railways in one, all of them working; cost of a line against one alone, both replayed by turns")
    sizes("small railways", *small(), TIMES_SMALL, arguments.seconds)
    sizes("the demonstration", folder.railway, records, TIMES, arguments.seconds)


def small() -> tuple[Railway, list[Record]]:
    """A railway of 10 stretches and 100 vehicles, and an evening on it."""
    railway = read({file: text.encode() for file, text in grow(SEED, SMALL).texts.items()}).railway
    assert railway is not None and (len(railway.plant.at_stretch), len(railway.stock)) == (10, 100)
    evening = Worked(railway, Script(begin_s(railway)), seed=SEED)
    evening.hire(company(evening.scene, SEED)[0])
    recording = Recording(evening)
    recording.run()
    return railway, list(recording.records)


def evening(railway: Railway) -> list[Record]:
    """The demonstration evening, as the virtual boards report it."""
    lines = Recording(stage(railway, DEMO / "evening.script").evening(1, [])).run().splitlines()
    return [record for record in read_capture(lines) if not isinstance(record, CaptureFault)]


def loops(folder: FolderRead, records: Sequence[Record], runs: int) -> None:
    """The bare loops and the whole bridge, in lines a second and against each other."""
    received = rate(lambda: receive(records), runs)
    inserted = rate(lambda: insert(records), runs)
    bridged = rate(lambda: bridge(folder, records), runs)
    print(f"bare receive loop (cut at LF)               {received:>12,.0f} lines/s")
    print(f"bare insert loop (SQLite, WAL, FULL)        {inserted:>12,.0f} lines/s")
    print(f"the whole bridge (parse, journal, fold,     {bridged:>12,.0f} lines/s   1/{received / bridged:,.0f} of receive,")
    print(f"  and a snapshot drawn at every commit)     {'':>12}           1/{inserted / bridged:,.1f} of insert\n")


def rate(loop: Callable[[], tuple[int, float]], runs: int) -> float:
    """Lines a second: the middle of several runs."""
    return statistics.median(lines / seconds for lines, seconds in (loop() for _ in range(runs)))


def receive(records: Sequence[Record]) -> tuple[int, float]:
    """Cut lines off a stream of bytes, and nothing else."""
    stream = b"".join(encode(record.line) for record in records if isinstance(record, Received)) * 20
    began, held, count = time.perf_counter(), b"", 0
    for start in range(0, len(stream), CHUNK_BYTES):
        *lines, held = (held + stream[start : start + CHUNK_BYTES]).split(b"\n")
        count += len(lines)
    return count, time.perf_counter() - began


def insert(records: Sequence[Record]) -> tuple[int, float]:
    """Write rows into a fresh database, and nothing else."""
    rows = [(1, n, record.t, format_record(record)) for n, record in enumerate(records)]
    with tempfile.TemporaryDirectory() as folder:
        db = sqlite3.connect(Path(folder) / "bare.db")
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("CREATE TABLE records (session INTEGER, n INTEGER, t REAL, line TEXT, PRIMARY KEY (session, n))")
        db.commit()
        began = time.perf_counter()
        for start in range(0, len(rows), A_COMMIT):
            db.executemany("INSERT INTO records VALUES (?, ?, ?, ?)", rows[start : start + A_COMMIT])
            db.commit()
        seconds = time.perf_counter() - began
        db.close()
    return len(rows), seconds


def bridge(folder: FolderRead, records: Sequence[Record]) -> tuple[int, float]:
    """Bytes in, snapshot out: parsed, journalled, folded and drawn, without links and pages."""
    railway = folder.railway
    assert railway is not None
    raw = [encode(record.line)[:-1] if isinstance(record, Received) else b"" for record in records]
    with tempfile.TemporaryDirectory() as place:
        journal = Journal(Path(place) / "bench.store", railway.plant.id)
        now = Moment(0.0, time.time())
        opened = Evening(CORE, railway)
        desk = Desk(journal, 1, opened, folder, core=CORE, now=lambda: now, folder_again=lambda: None)
        began = time.perf_counter()
        for start in range(0, len(records), A_COMMIT):
            ends = slice(start, start + A_COMMIT)
            sheet = [parsed(record, line) for record, line in zip(records[ends], raw[ends], strict=True)]
            desk.take(sheet)
            opened.view()
        seconds = time.perf_counter() - began
        desk.close()
    return len(records), seconds


def parsed(record: Record, raw: bytes) -> Record:
    """A record as its link would make it from the line's bytes; other records as they are."""
    if not isinstance(record, Received):
        return record
    line = parse_board_line(raw)
    assert not isinstance(line, Reject)
    return Received(record.t, record.link, line)


def sizes(name: str, railway: Railway, records: Sequence[Record], wanted: Sequence[int], longest_s: float) -> None:
    """What a line costs in so many of a railway, against the one alone over the same part of its evening."""
    print(f"{name}:")
    for size in wanted:
        many = larger.railway(railway, size)
        spare()  # as the service does once everything is read
        until_t = reached(many, larger.records(railway, records, size), longest_s)
        part = [record for record in records if record.t <= until_t]
        large, small = Replayed(), Replayed()
        turns = replaying(many, larger.records(railway, part, size), large)
        while next(turns, None) is not None:
            while small.took_s < large.took_s:
                deque(replaying(railway, part, small), maxlen=0)
        cost, outcomes = large.a_line_s / small.a_line_s, large.said / large.lines / (small.said / small.lines)
        share = "the whole evening" if until_t >= records[-1].t else f"its first {until_t:,.0f} of {records[-1].t:,.0f} s"
        things = f"{len(many.plant.at_stretch):,} stretches, {len(many.stock):,} vehicles"
        print(f"  {size:>4} x  {things:<32} cost {cost:6.2f}   outcomes a line {outcomes:5.2f} x   ({share})")


@dataclass
class Replayed:
    """What replays of one railway came to so far."""

    lines: int = 0
    said: int = 0
    took_s: float = 0.0

    @property
    def a_line_s(self) -> float:
        """What a line cost."""
        return self.took_s / self.lines


def reached(railway: Railway, records: Iterable[Record], longest_s: float) -> float:
    """The host second that a replay of so long reaches."""
    replay, reached_t = Replayed(), 0.0
    for t in replaying(railway, records, replay):
        reached_t = t
        if replay.took_s >= longest_s:
            break
    return reached_t


def replaying(railway: Railway, records: Iterable[Record], replay: Replayed) -> Iterator[float]:
    """A replay that pauses after so many lines with the host second reached. Only the following counts: the records are made
    before it, so many at a time."""
    opened, coming = Evening(CORE, railway), iter(records)
    while part := list(islice(coming, AT_ONCE)):
        began = time.process_time()
        replay.said += sum(1 for record in part for _ in opened.follow(record))
        replay.took_s += time.process_time() - began
        replay.lines += len(part)
        yield part[-1].t


if __name__ == "__main__":
    main()
