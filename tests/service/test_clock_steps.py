"""Whatever is done to the clocks of host and boards: the same is said, in the same order, and each setting is one entry."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bridge.audit.boards import health
from bridge.folder import FolderRead, load
from bridge.journal import ClockStep, Reader
from bridge.service.recounting import recount
from bridge.wire.lines import Report
from bridge.wire.records import Received

from .by_hand import WRAP, Evening, Host
from .conftest import RAILWAY

FOLDER = load(RAILWAY)
NOW = 1_790_000_000.0
IN_MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
"""Where there is such a place: nothing here is about disks."""

UNSET = 0.0
"""1970: a computer without a battery clock."""

Change = tuple[float, float | None]
"""Seconds that pass, and what is then done to the time of day: by how much it is set, 0 to 1970, None nothing."""

CHANGES = st.lists(
    st.tuples(st.floats(0.1, 1.9), st.one_of(st.none(), st.sampled_from([3600.0, -3600.0, UNSET, 10.0, -2.5]))), max_size=10
)


@contextmanager
def a_store() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(dir=IN_MEMORY) as place:
        yield Path(place) / "oxlip.store"


def begun(store: Path, host: Host | None = None, ppm: float = 0.0, started_ms: int = 900_000) -> Evening:
    evening = Evening(store, FOLDER, host, ppm, started_ms)
    evening.opened()
    evening.then(0.5, *evening.hello())
    evening.then(0.5, *evening.states())
    evening.then(1.0, "begin 19:00")
    return evening


def lived(evening: Evening, changes: list[Change], is_disturbed: bool) -> list[tuple[float, float]]:
    """An evening on which a train comes and goes; where its clock was set, from what to what."""
    expected: list[tuple[float, float]] = []
    shift_s = passed_s = 0.0
    began_s = evening.host.wall_s + sum((0.5, 0.5, 1.0))
    for number, (seconds, by) in enumerate([*changes, *[(1.9, None)] * 4]):
        board, value = ("thistle", "on" if number % 8 < 4 else "off")
        evening.seq[board] += 1
        evening.then(seconds, *evening.alive(), Report(board, 5, evening.seq[board], 0, 4, value))
        passed_s += seconds
        if by is None or not is_disturbed:
            continue
        before = began_s + passed_s + shift_s
        after = by if by == UNSET else before + by
        if abs(after - before) > 2.0:
            expected.append((before, after))
        shift_s += after - before
        evening.set(after)
    evening.then(0.1, *evening.alive())
    return expected


def told(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    times = ("t", "happened", "clock")  # the clock's face turns with a hundredth of a second
    return [{key: value for key, value in row.items() if key not in times} for row in rows]


@given(CHANGES, st.floats(-20_000, 20_000), st.one_of(st.just(900_000), st.integers(WRAP - 30_000, WRAP - 1)))
@settings(max_examples=5, deadline=None, phases=(Phase.explicit, Phase.generate))
def test_the_same_is_said_and_each_setting_is_one_entry(changes: list[Change], ppm: float, started_ms: int) -> None:
    with a_store() as store, a_store() as quiet_store, a_store() as same_store:
        evening = begun(store, ppm=ppm, started_ms=started_ms)
        expected = lived(evening, changes, True)
        evening.run()
        quiet = begun(quiet_store)
        lived(quiet, changes, False)
        quiet.run()
        assert told(evening.said) == told(quiet.said)
        # clear counts from when its board saw it: by a clock 20,000 ppm wrong that is some hundredths another moment
        assert [row["t"] for row in evening.said] == pytest.approx([row["t"] for row in quiet.said], abs=0.06)
        same = begun(same_store, ppm=ppm, started_ms=started_ms)
        lived(same, changes, False)
        same.run()
        assert evening.said == same.said  # of the host's clock nothing at all is seen
        assert all(row.get("happened", 0.0) <= row["t"] for row in evening.said)
        assert not [row for row in evening.said if row.get("kind") in ("board-lost", "reports-lost")]
        with Reader.open(store) as reader, Reader.open(quiet_store) as other:
            assert [line.split()[1:3] for line in reader.lines(1)] == [line.split()[1:3] for line in other.lines(1)]
            found = [step for _, step in reader.clock_steps(1)]
            assert other.clock_steps(1) == ()
            assert_in_order(reader)
        assert_found(found, expected)


def assert_found(found: list[ClockStep], expected: list[tuple[float, float]]) -> None:
    """Each once and in order, as of the next line: what it would have been and what it was have gone on till then."""
    assert len(found) == len(expected)
    for step, (before, after) in zip(found, expected, strict=True):
        assert step.after - step.before == pytest.approx(after - before, abs=1e-3)
        assert 0.0 <= step.after - after < 2.0


def assert_in_order(reader: Reader) -> None:
    """Nowhere a second back, nowhere a duration below none: journal, deadlines, register, papers."""
    for session in reader.sessions():
        times = [row.record.t for row in reader.records(session.id)]
        assert times == sorted(times)
        steps = reader.clock_steps(session.id)
        assert [step.t for _, step in steps] == sorted(step.t for _, step in steps)
        for after_n, t in reader.deadlines(session.id):
            assert times[after_n - 1] <= t
            assert after_n == len(times) or t <= times[after_n]
        again = recount(reader, session)
        said = [outcome.t for outcome in again.outcomes]
        assert said == sorted(said)
        boards, _ = health(again.railway.plant.boards, again.records)
        assert all(0.0 <= board.silence_s < 6.0 for board in boards)


@given(
    st.lists(
        st.tuples(CHANGES, st.sampled_from([30.0, 86_400.0]), st.sampled_from([None, UNSET, 3600.0, -3600.0])), max_size=3
    )
)
@settings(max_examples=5, deadline=None, phases=(Phase.explicit, Phase.generate))
def test_over_restarts_too(runs: list[tuple[list[Change], float, float | None]]) -> None:
    """The computer stands for a while, and its clock is another when it comes back: it forgot it, or somebody set it."""
    with a_store() as store:
        host = Host()
        evening = begun(store, host)
        expected = lived(evening, [], True)
        evening.run()
        for changes, pause_s, by in runs:
            last = evening.clock.now()
            host.go(pause_s)
            if by is not None:
                host.wall_s = by if by == UNSET else host.wall_s + by
            if host.wall_s < last.wall - 2.0:
                expected.append((last.wall, host.wall_s))
            seq = evening.seq
            evening = Evening(store, FOLDER, host)
            evening.seq = seq
            assert evening.clock() >= last.t
            assert evening.clock() == pytest.approx(last.t + max(0.0, host.wall_s - last.wall), abs=1e-3)
            evening.opened()
            evening.then(0.5, *evening.hello())
            evening.then(0.5, *evening.states())
            evening.then(1.0)
            expected += lived(evening, changes, True)
            evening.run()
            assert not [row for row in evening.said if row.get("kind") in ("board-lost", "reports-lost")]
        with Reader.open(store) as reader:
            assert_in_order(reader)
            found = [step for _, step in reader.clock_steps(1)]
        assert_found(found, expected)


def test_a_computer_without_a_battery_clock_is_told_the_time_in_the_midst_of_it(store: Path, folder: FolderRead) -> None:
    host = Host()
    evening = begun(store, host)
    evening.then(2.0, *evening.alive())
    evening.run()
    last = evening.clock.now()
    host.go(40_000.0)
    host.wall_s = 7.0  # it wakes in 1970
    seq, evening = evening.seq, Evening(store, folder, host)
    evening.seq = seq
    evening.opened()
    evening.then(0.5, *evening.hello())
    evening.then(0.5, *evening.states())
    evening.then(1.0, *evening.alive())
    evening.set(NOW + 40_100.0)  # and is told the time by another
    evening.then(1.0, *evening.alive())
    evening.then(1.0, *evening.alive())
    evening.run()
    with Reader.open(store) as reader:
        found, other = reader.clock_steps(1)
        times = [row.record.t for row in reader.records(1)]
        assert_in_order(reader)
        assert reader.last_moment is not None and reader.last_moment.wall > NOW
    assert found[1] == ClockStep(last.t, last.wall, 7.0, running=False)
    assert other[1].running and (other[1].before, other[1].after) == (pytest.approx(10.0), NOW + 40_101.0)
    assert times[-1] - last.t == pytest.approx(4.0)  # how long it stood nobody knows: no time of the session passed
    notices = evening.clock.notices()
    assert (
        len(notices) == 2
        and "was found" in notices[0]
        and f"set forward by {(40_101 + NOW - 10) // 86_400:.0f} days" in notices[1]
    )


def test_the_page_is_told(store: Path, folder: FolderRead) -> None:
    evening = begun(store)
    evening.steps.append(lambda: setattr(evening.service, "_look_at", 0.0) or [])
    evening.set(NOW + 3600.0)
    evening.then(1.0, *evening.alive())
    evening.run()
    evening.service._look_at = 0.0
    evening.service._look_around()
    evening.service._showing._next_at = 0.0
    evening.service._show()
    assert any("set forward by 0:59:5" in line for line in evening.log)
    (trouble,) = evening.service.latest().snapshot["troubles"]
    assert trouble.startswith("The computer's clock was set forward by 0:59:5")
    assert trouble.endswith("Nothing here depends on it.")
    assert time.strftime("%H:%M", time.localtime(NOW + 3600.0)) in trouble


def test_a_wrap_within_a_session_loses_no_order(store: Path, folder: FolderRead) -> None:
    evening = begun(store, started_ms=WRAP - 8_000)
    lived(evening, [(1.5, None)] * 8, True)
    evening.run()
    with Reader.open(store) as reader:
        ms = [row.record.line.ms for row in reader.records(1) if isinstance(row.record, Received)]
    assert max(ms) > WRAP - 3_000 and min(ms) < 10_000  # it did wrap
    happened = [row["t"] for row in evening.said if row["says"] == "observed" and row["detector"] == "thistle-down-throat"]
    assert happened == sorted(happened) and len(happened) >= 3
