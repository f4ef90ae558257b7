"""An input that screams, and a link full of garbage: the journal stays small, no number is lost sight of, and nobody else is
touched."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.events import Journalled
from bridge.folder import FolderRead
from bridge.journal import Journal, Moment, Reader, gaps
from bridge.links.health import Health
from bridge.links.link import Arrival
from bridge.service.calming import LONGEST_S, Calming
from bridge.service.core import CORE
from bridge.service.desk import Desk
from bridge.service.folding import Evening
from bridge.service.pace import A_SECOND, BURST, CALM_AFTER_S, Paces
from bridge.service.replaying import replay
from bridge.wire.lines import Again, Alive, Ask, Edge, Hello, Report, State
from bridge.wire.numbering import Numbering
from bridge.wire.records import HostStarted, Reading, Received, Record, Rejected, Said
from bridge.wire.withheld import lines_withheld, rejects_withheld

from .conftest import Live

MOST_BYTES_A_SECOND = 10_000_000 / 600  # 10 MB in ten minutes


def report(t: float, seq: int, value: str = "on", number: int = 1, board: str = "brake", boot: int = 7) -> Received:
    return Received(t, "mqtt", Report(board, boot, seq, int(t * 1000), number, value))


def sifted(calming: Calming, *records: Record, t: float | None = None, at_once: bool = False) -> list[Record]:
    """What of these goes on to the journal."""
    now = records[-1].t if t is None else t
    items = calming.sift([Arrival(records)] if records else [], now, at_once)
    return [record for item in items for record in item.records]  # type: ignore[union-attr]


def numbers_of(records: Iterable[Record], board: str = "brake") -> list[int]:
    """The numbers of a board's lines, kept or told of, as often as they came."""
    found: list[int] = []
    for record in records:
        if isinstance(record, Received) and isinstance(record.line, Report | State) and record.line.board == board:
            found.append(record.line.seq)
        elif isinstance(record, Rejected) and (told := lines_withheld(record)) is not None and told.board == board:
            found += [n for first, last in told.numbers for n in range(first, last + 1)]
    return found


def test_what_no_screaming_input_brings_is_let_through_for_ever() -> None:
    calming = Calming()
    at_once = [report(0.0, seq) for seq in range(1, int(BURST) + 1)]
    assert sifted(calming, *at_once) == at_once
    for n in range(1, 2_000):
        record = report(1.05 * n / A_SECOND, int(BURST) + n)
        assert sifted(calming, record) == [record]
    assert calming.troubles(100.0) == ()
    assert not calming.owes


def test_once_too_fast_it_is_held_down_until_it_is_calm() -> None:
    paces = Paces()
    assert sum(paces.take(("x",), n / 100.0) for n in range(2_000)) < BURST + 20 * A_SECOND
    assert not any(paces.take(("x",), 20.0 + n / 25.0) for n in range(500))  # still faster than is let through
    assert not paces.take(("x",), 40.0 + CALM_AFTER_S / 2)
    assert paces.take(("x",), 40.0 + 2 * CALM_AFTER_S)


def test_a_screaming_input_is_told_of_and_others_are_let_through() -> None:
    calming = Calming()
    others: list[Record] = [
        Received(0.3, "mqtt", Hello("alder", 3, 300, 16)),
        Received(0.3, "mqtt", Alive("alder", 3, 0, 300)),
        Received(0.3, "mqtt", Report("alder", 3, 1, 300, 5, "tag=04A1003B68")),
        Said(0.3, None, "begin 19:00"),
        HostStarted(0.3),
    ]
    scream = [report(0.0, seq) for seq in range(1, 1501)]
    kept = sifted(calming, *scream, *others)
    assert kept == [*scream[:400], *others]
    assert calming.owes
    assert sifted(calming, t=0.3 + LONGEST_S / 2) == []
    told = sifted(calming, t=0.3 + LONGEST_S)
    assert [record.raw for record in told if isinstance(record, Rejected)] == [b"numbered brake 7 401-1500 1=1100@1500"]
    assert not calming.owes
    (trouble,) = calming.troubles(0.4)
    assert trouble.startswith("Input 1 of board brake changes 1,500 times a second:")
    assert calming.troubles(30.0) == ()


@pytest.mark.parametrize(
    "line", [Alive("brake", 7, 1200, 90), Report("brake", 7, 1201, 90, 2, "on"), Hello("brake", 7, 90, 16)]
)
def test_word_of_it_stands_before_the_next_line_of_its_board(line: Any) -> None:
    calming = Calming()
    sifted(calming, *(report(0.0, seq) for seq in range(1, 1201)))
    told, next_one = sifted(calming, Received(0.01, "mqtt", line))
    assert isinstance(told, Rejected)
    assert next_one == Received(0.01, "mqtt", line)


# Lines of two inputs that scream and of one that does not, with losses, repeats and late ones.
SEQS = st.lists(st.tuples(st.integers(1, 12), st.sampled_from([1, 2, 2, 3])), min_size=1, max_size=60)


@settings(deadline=None)
@given(SEQS, st.integers(0, 400))
def test_no_number_is_lost_and_no_gap_is_seen_where_there_is_none(found: list[tuple[int, int]], quiet: int) -> None:
    calming = Calming()
    fill = [report(0.0, seq, number=number) for number in (1, 2) for seq in (1,) * quiet]  # repeats of one number
    lines: list[Record] = [*fill, *(report(0.001 * n, seq + n // 2, number=i) for n, (seq, i) in enumerate(found, 1))]
    kept = [record for n in range(0, len(lines), 7) for record in sifted(calming, *lines[n : n + 7])]
    kept += sifted(calming, t=1.0, at_once=True)
    assert set(numbers_of(kept)) == set(numbers_of(lines))
    seen, there = opened(kept), opened(lines)
    assert seen[0] == there[0]
    assert seen[1] <= there[1]


def opened(records: Iterable[Record]) -> tuple[set[int], set[int]]:
    """Numbers that are missing in the end, and all that were thought to be at any time."""
    account, ever = Numbering(), set[int]()
    for record in records:
        line = record.line if isinstance(record, Received) else None
        if isinstance(line, Report):
            taken = [account.take("report", line.boot, line.seq, record.t, line.ms)]
        else:
            assert isinstance(record, Rejected)
            told = lines_withheld(record)
            assert told is not None
            taken = [account.take_many(told.boot, first, last, record.t) for first, last in told.numbers]
        ever |= {n for one in taken for first, last in one.gaps for n in range(first, last + 1)}
    return {n for row in account.missing for n in range(row.first, row.last + 1)}, ever


def test_undebounced_edges_are_counted() -> None:
    calming = Calming()
    kept = sifted(calming, *(Received(0.0, "mqtt", Edge("brake", 7, us, 3, "on")) for us in range(1000)), t=1.0)
    kept += sifted(calming, t=2.0)
    assert len(kept) == 401
    assert kept[-1] == Rejected(0.0, "mqtt", "screaming", b"edge brake 0 - 3=600@1000")
    assert calming.troubles(1.0) == ()  # somebody watches it: that is what they wanted to know


def test_how_an_adapters_input_stands_is_told_once_it_is_calm() -> None:
    calming = Calming()
    scream = [Reading(0.001 * n, "mqtt", "shed", 4, "on" if n % 2 else "off") for n in range(1000)]
    kept = sifted(calming, *scream)
    kept += sifted(calming, t=1.1)
    assert isinstance(kept[-1], Rejected)
    told = lines_withheld(kept[-1])
    assert told is not None
    assert (told.kind, told.board, told.inputs[0].lines) == ("reading", "shed", 1000 - (len(kept) - 1))
    due = calming.due()
    assert due == pytest.approx(0.999 + CALM_AFTER_S)
    assert sifted(calming, t=due) == [Reading(due, "mqtt", "shed", 4, "on")]
    assert calming.due() is None


def test_garbage_is_counted_by_its_reasons() -> None:
    calming = Calming()
    noise = [Rejected(0.0, "serial-x", "bad-sum" if n % 4 else "too-long", b"\xff" * 100) for n in range(1000)]
    kept = sifted(calming, *noise, t=1.0)
    kept += sifted(calming, t=2.0)
    assert kept[:-1] == noise[:200]  # 100 bytes cost as much as a reject
    assert isinstance(kept[-1], Rejected)
    assert rejects_withheld(kept[-1]) == {"bad-sum": 600, "too-long": 200}
    assert calming.troubles(1.0)[0].startswith("serial-x brings 1,000 lines a second that are none")


def desk_of(store: Path, folder: FolderRead, now: Any) -> Desk:
    assert folder.railway is not None
    journal = Journal(store, folder.railway.plant.id)
    return Desk(journal, 1, Evening(CORE, folder.railway), folder, core=CORE, now=now, folder_again=lambda: folder)


def evening(seconds: float, per_second: int) -> Iterator[list[Record]]:
    """Handfuls of 10 ms: an input of thistle screams but for the first and the last five seconds, the other boards go on."""
    seq = dict.fromkeys(("thistle", "marrow", "oxlip"), 0)

    def line(board: str, t: float, number: int, value: str) -> Received:
        seq[board] += 1
        return Received(t, "mqtt", Report(board, 5, seq[board], int(t * 1000), number, value))

    for step in range(int(seconds * 100)):
        t = round(step / 100, 6)
        records: list[Record] = []
        if step == 0:
            records = [Received(t, "mqtt", Hello(board, 5, 0, 16)) for board in seq]
            records.append(Said(t, None, "begin 19:00"))
        if 5.0 <= t < seconds - 5.0:
            records += [
                line("thistle", round(t + n / per_second, 6), 1, "on" if n % 2 else "off") for n in range(per_second // 100)
            ]
        if step % 20 == 0:
            records.append(line("marrow", t + 0.0099, 2, "on" if step % 40 else "off"))
        if step % 200 == 0:
            records += [Received(t + 0.0099, "mqtt", Alive(board, 5, seq[board], int(t * 1000))) for board in seq]
        yield records


@pytest.mark.parametrize("seconds", [25, pytest.param(150, marks=pytest.mark.slow)])
@pytest.mark.timeout(600)
def test_long_screaming(tmp_path: Path, folder: FolderRead, seconds: int) -> None:
    clock = [0.0]
    desk = desk_of(tmp_path / "oxlip.store", folder, lambda: Moment(clock[0], 1_000.0 + clock[0]))
    calming, health = Calming(), Health()
    assert folder.railway is not None
    screamer = next(d.id for d in folder.railway.plant.detectors.values() if (d.board, d.input) == ("thistle", 1))
    asked: list[tuple[float, str, Any]] = []
    said: list[dict[str, Any]] = []
    states: dict[float, dict[str, Any]] = {}
    came: list[int] = []
    answer: list[Record] = []
    for step, records in enumerate(evening(seconds, 5_000)):
        clock[0] = step / 100
        came += [seq for seq in numbers_of(records, "thistle") if seq % 997 == 0]  # a sample
        for record in sifted(calming, *answer, *records, t=clock[0]):
            (taken,) = desk.take([record])
            said += [outcome.as_dict() for outcome in taken.said]
            orders = health.take(taken.record)
            asked += [(clock[0], board, line) for board, line in orders]
        woken = health.wake(clock[0])
        asked += [(clock[0], board, line) for board, line in woken]
        answer = []
        if ("thistle", Ask()) in woken and clock[0] > 15:
            last = numbers_of(records, "thistle") or [5_000 * (seconds - 10)]
            answer = [Received(clock[0] + 0.01, "mqtt", State("thistle", 5, last[-1] + 1, int(clock[0] * 1000), 1, "on"))]
        if step in (400, 1_500):
            view = desk.view()
            states[step / 100] = next(row for row in view["detectors"] if row["id"] == screamer)
    final = next(row for row in desk.view()["detectors"] if row["id"] == screamer)
    assert states[15.0]["state"] == "unknown"
    assert states[15.0]["why"] == "it changes 5,000 times a second"
    assert final["why"] is None
    late_asks = [(t, line) for t, board, line in asked if board == "thistle" and t > 5.1]
    end = seconds - 5.0
    assert all(t > end and line == Ask() for t, line in late_asks)
    assert late_asks
    assert late_asks[0][0] == pytest.approx(end + 1.0, abs=0.2)
    assert not any(isinstance(line, Again) for _, _, line in asked)
    desk.close()
    size = sum(file.stat().st_size for file in tmp_path.iterdir())
    print(f"{seconds - 10} s of 5,000 lines a second, and others: {size:,} bytes")
    assert size <= MOST_BYTES_A_SECOND * seconds
    with Reader.open(tmp_path / "oxlip.store") as reader:
        rows = list(reader.records(1))
    assert gaps(rows) == ()
    kept = [row.record for row in rows]
    assert set(came) <= set(numbers_of(kept, "thistle"))
    assert len(numbers_of(kept, "marrow")) == seconds * 5
    again = [outcome.as_dict() for outcome in replay(folder.railway, kept)]
    assert again[: len(said)] == said
    assert len(said) < 2_000


def test_long_garbage(tmp_path: Path, folder: FolderRead) -> None:
    desk = desk_of(tmp_path / "oxlip.store", folder, lambda: Moment(0.0, 1_000.0))
    calming = Calming()
    for step in range(2_000):
        t = step / 100
        noise = [Rejected(round(t + n / 5_000, 6), "serial-x", "bad-sum", b"\xa5" * 60) for n in range(50)]
        for record in sifted(calming, *noise, t=t):
            desk.take([record])
    desk.close()
    assert sum(file.stat().st_size for file in tmp_path.iterdir()) <= MOST_BYTES_A_SECOND * 20
    with Reader.open(tmp_path / "oxlip.store") as reader:
        many = [rejects_withheld(row.record) for row in reader.records(1) if isinstance(row.record, Rejected)]
    assert sum(1 if told is None else told["bad-sum"] for told in many) == pytest.approx(100_000, rel=0.001)


def test_nothing_is_acknowledged_before_word_of_it_is_on_the_disk(go_live: Any, store: Path) -> None:
    live: Live = go_live()
    acknowledged: list[int] = []
    all_of_them = threading.Event()

    def done(seq: int) -> None:
        acknowledged.append(seq)
        if seq == 1_000:
            with Reader.open(store) as reader:
                assert sorted(numbers_of(row.record for row in reader.records(1))) == list(range(1, 1_001))
            all_of_them.set()

    at_t = live.resumed.clock()  # all in one instant: on a slow machine more would be let through in the next second
    for seq in range(1, 1_001):
        live.link.bring(report(at_t, seq, "off"), done=lambda seq=seq: done(seq))
    assert all_of_them.wait(10), (live.failure, live.log)
    assert acknowledged == list(range(1, 1_001))
    assert any("changes" in line for line in live.log) or live.service._calming.troubles(live.resumed.clock())
    live.stop()
    assert gaps(Journalled(row.n, row.record) for row in Reader.open(store).records(1)) == ()
    assert [row["seq"] for row in live.said] == list(range(1, 401))
