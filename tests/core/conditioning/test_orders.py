"""What holds whatever comes, in whatever order: repeats, shuffles, pauses, rubbish; and what a line costs."""

from __future__ import annotations

import pickle
import sys
from collections.abc import Callable
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.plant import DetectorKind
from bridge.wire.lines import Alive, Edge, Hello, Report, State
from bridge.wire.records import BoardDown, BoardUp, Closed, HostStarted, HostStopped, Opened, Reading, Received, Record

Scene = Any
Make = Callable[..., Scene]

CLEAR_AFTER_S = {"dock": 1.0, "loop": 1.0, "line": 1.0, "rest": 0.5}
LASTING = ("dock", "loop", "line", "points", "bridge", "rest")

values = st.sampled_from(["on", "off", "on", "off", "tag=04A1", "tag=04B2"])
boards = st.sampled_from(["alder", "alder", "birch", "fern"])
waits = st.sampled_from([0.0, 0.02, 0.1, 0.3, 0.6, 1.0, 2.5, 7.0])
links = st.sampled_from(["one", "two"])
boots = st.sampled_from([17, 17, 17, 18])
times = st.integers(0, 1 << 32).map(lambda n: n % (1 << 32))


@st.composite
def records(draw: st.DrawFn) -> list[Record]:
    """Anything that can reach the host, in the order of time."""
    t, rows = 0.0, []
    for kind in draw(st.lists(st.integers(0, 12), max_size=60)):
        t = round(t + draw(waits), 6)
        link, board, boot, value = draw(links), draw(boards), draw(boots), draw(values)
        seq, number = draw(st.integers(1, 30)), draw(st.integers(1, 9))
        ms = draw(st.one_of(st.just(int(t * 1000)), times))
        rows.append(
            [
                Received(t, link, Report(board, boot, seq, ms, number, value)),
                Received(t, link, Report(board, boot, seq, ms, number, value)),
                Received(t, link, Report(board, boot, seq, ms, number, value)),
                Received(t, link, State(board, boot, seq, ms, number, value)),
                Received(t, link, State(board, boot, seq, ms, number, value)),
                Received(t, link, Alive(board, boot, seq, ms)),
                Received(t, link, Hello(board, boot, ms, 10)),
                Received(t, link, Edge(board, boot, ms, number, "on")),
                Reading(t, link, board, number, value),
                draw(st.sampled_from([Opened(t, link), Closed(t, link)])),
                BoardUp(t, link, board),
                BoardDown(t, link, board),
                draw(st.sampled_from([HostStarted(t), HostStopped(t)])),
            ][kind]
        )
    return rows


@given(rows=records())
def test_whatever_comes_what_is_told_agrees_with_what_stands(make: Make, rows: list[Record]) -> None:
    scene = make(limits={})
    scene.core.begin(0.0)
    told = dict.fromkeys(LASTING, "unknown")
    for record in rows:
        before = len(scene.observations)
        scene.feed(record)
        assert scene.core.due() is None or scene.core.due() > record.t
        for seen in scene.observations[before:]:
            assert 0.0 <= seen.happened_t <= seen.t <= record.t
            line = rows[seen.n - 1]
            assert not seen.moves or isinstance(getattr(line, "line", line), Report | Reading)
            if seen.detector in told:
                assert told[seen.detector] != seen.state or seen.detector == "rest"
                told[seen.detector] = seen.state
        assert {name: scene.word(name) for name in told} == told


@given(rows=records())
def test_clear_never_counts_sooner_than_clear_after_of_continuous_off(make: Make, rows: list[Record]) -> None:
    """By the lines themselves: between the off that it rests on and the clear lie `clear_after` and no on that counts."""
    scene = make(limits={})
    for record in rows:
        scene.feed(record)
    scene.until(1e9)
    for seen in scene.observations:
        if seen.detector in CLEAR_AFTER_S and seen.state in ("clear", "off"):
            off = rows[(seen.n or 0) - 1]
            assert seen.t - off.t >= CLEAR_AFTER_S[seen.detector] - 1e-6
            between = [o for o in scene.observations if o.detector == seen.detector and off.t < o.t < seen.t]
            assert not any(o.state in ("occupied", "on") for o in between)


@given(rows=records())
def test_a_state_kept_and_taken_up_again_goes_on_the_same(make: Make, rows: list[Record]) -> None:
    one, other = make(limits={}), make(limits={})
    for record in rows:
        assert one.feed(record) == other.feed(record)
        other.core = pickle.loads(pickle.dumps(other.core))
    one.until(1e9)
    other.until(1e9)
    assert one.observations == other.observations
    assert one.changes == other.changes
    assert one.core.detectors == other.core.detectors


@st.composite
def one_boot(draw: st.DrawFn) -> list[Report | State]:
    """Lines of one boot as the board numbers them, its milliseconds rising."""
    ms, rows = 1000, []
    for seq in range(1, draw(st.integers(1, 25)) + 1):
        ms += draw(st.sampled_from([10, 100, 700, 3000]))
        number = draw(st.sampled_from([1, 2, 5, 6, 7, 8]))
        value = draw(st.sampled_from(["tag=04A1", "off"] if number == 8 else ["on", "off"]))
        rows.append(draw(st.sampled_from([Report, Report, State]))("alder", 17, seq, ms, number, value))
    return rows


@given(rows=one_boot(), lost=st.sets(st.integers(1, 25)), chance=st.randoms(use_true_random=False))
def test_repeats_and_shuffles_give_the_same_passings_and_the_same_numbers_missing(
    make: Make, rows: list[Report | State], lost: set[int], chance: Any
) -> None:
    kept = [line for line in rows if line.seq not in lost]
    mixed = [*kept, *chance.sample(kept, len(kept) // 2)]
    chance.shuffle(mixed)
    scenes = []
    for order in (kept, mixed):
        scene = make()
        scene.alive(50.0, seq=0)
        for i, line in enumerate(order):
            scene.line(100.0 + i * 0.01, line)
        scene.alive(110.0, seq=25)
        while scene.late:
            scene.place(110.0)
        scene.until(200.0)
        scenes.append(scene)
    missing = [scene.core.boards["alder"].numbering.missing for scene in scenes]
    numbers = [{n for row in rows for n in range(row.first, row.last + 1)} for rows in missing]
    assert numbers[0] == numbers[1] == set(range(1, 26)) - {line.seq for line in kept}
    passings = [sum(o.detector == "engines" for o in scene.observations) for scene in scenes]
    assert passings[0] == passings[1] == sum(type(x) is Report and x.input == 5 and x.value == "on" for x in kept)


def lines_run(scene: Scene, feed: Callable[[], object]) -> int:
    """How many lines of code run."""
    count = 0

    def trace(frame: Any, event: str, arg: Any) -> Any:
        nonlocal count
        count += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        feed()
    finally:
        sys.settrace(before)
    return count


def test_the_cost_of_a_line_does_not_grow_with_the_plant(make: Make) -> None:
    costs = []
    for size in (10, 1000):
        kind = {"kind": DetectorKind.TRACK, "covers": "alder.yard", "clear_after_ms": 1000.0}
        tracks = {f"x{n}": {**kind, "id": f"x{n}", "board": f"b{n // 8}", "input": n % 8} for n in range(size)}
        boards = {"alder": "serial", "birch": "serial", **{f"b{n // 8}": "serial" for n in range(size)}}
        scene = make(boards=boards, **tracks)
        for n in range(size):
            scene.report(1.0, n % 8, "on", board=f"b{n // 8}")
            scene.report(1.5, n % 8, "off", board=f"b{n // 8}")
        cost = lines_run(scene, lambda scene=scene: scene.report(1.6, 1, "on"))  # type: ignore[misc]
        cost += lines_run(scene, lambda scene=scene: scene.report(1.7, 1, "off"))  # type: ignore[misc]
        cost += lines_run(scene, lambda scene=scene: scene.rejected(1.8))  # type: ignore[misc]
        costs.append(cost)
    assert costs[1] < costs[0] * 1.2


def test_memory_does_not_grow_with_the_length_of_the_session(make: Make) -> None:
    scene = make(limits={})
    sizes = []
    for hour in range(3):
        for n in range(600):
            t = hour * 600.0 + n
            scene.report(t, 1 + n % 8, "off" if n % 16 < 8 else "tag=04A1" if n % 8 in (2, 7) else "on")
            scene.report(t + 0.5, 3, f"tag={n % 200:04X}", seq=scene.seqs[("alder", 17)] + 2)
            scene.seqs[("alder", 17)] += 2
        sizes.append(len(pickle.dumps(scene.core)))
    assert sizes[2] < sizes[1] * 1.05
