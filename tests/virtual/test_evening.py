"""An evening as a whole: what detectors say is what is there, numbers are whole, and a seed is an evening."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import pytest

from bridge.core.plant import DetectorKind
from bridge.virtual.board import DEBOUNCE_S
from bridge.virtual.evening import Evening
from bridge.virtual.faults import FAULTS
from bridge.virtual.orders import Order, RunsTo
from bridge.virtual.recording import Recording
from bridge.virtual.script import read_script
from bridge.virtual.staging import Stage
from bridge.virtual.world import NEAR_MM
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.encode import encode
from bridge.wire.lines import Alive, Report, State
from bridge.wire.parser import parse_board_line
from bridge.wire.records import Received, Rejected, Said

from .conftest import DEMO
from .geometry import overlaps, pieces_now

STEP_S = 0.7


def test_detectors_say_what_is_there_and_nothing_overlaps_or_passes(demo: Stage) -> None:
    evening = demo.evening(3, [])
    evening.start()
    world = evening.scene.world
    tracks = [d for d in demo.railway.plant.detectors.values() if d.kind is DetectorKind.TRACK]
    changed_s: dict[str, float] = {}
    states: dict[str, bool] = {}
    order: dict[tuple[str, str, str], bool] = {}
    looked = next_s = 0.0
    while not evening.finished:
        evening.timeline.step()
        now_s = evening.timeline.now_s
        if now_s < next_s:
            continue
        next_s, looked = now_s + STEP_S, looked + 1
        pieces = pieces_now(world, now_s)
        assert overlaps(world, pieces, NEAR_MM) == []
        for detector in tracks:
            there = any(world.railway.stock[row[2]].detected for row in pieces.get(detector.covers or "", ()))
            if states.get(detector.id) != there:
                states[detector.id], changed_s[detector.id] = there, now_s
            level = evening.boards[detector.board].levels[detector.input]
            if now_s - changed_s[detector.id] > DEBOUNCE_S + STEP_S:
                assert (level == "on") == (there != detector.invert), (detector.id, now_s)
        seen = {}
        for stretch, rows in pieces.items():
            ids = [row[2] for row in rows]
            for n, one in enumerate(ids):
                for other in ids[n + 1 :]:
                    seen[stretch, *sorted((one, other))] = one < other
        swapped = [key for key, ahead in seen.items() if key in order and order[key] != ahead]
        assert not swapped  # two vehicles on one stretch, an instant ago and now, have not passed each other
        order = seen
    assert looked > 1000


@pytest.mark.parametrize(
    "faults",
    [
        [],
        ["losing-board"],
        ["silent-board"],
        ["dirty", "brownout", "link-drops", "floating-input", "cross-talk", "power-trip"],
    ],
)
def test_lines_are_valid_and_numbers_whole_but_for_planted_losses(demo: Stage, faults: list[str]) -> None:
    evening = demo.evening(5, faults)
    recording = Recording(evening)
    recording.run()
    missing = defaultdict(set)
    highest: dict[tuple[str, int], int] = {}
    for record in recording.records:
        if isinstance(record, Received):
            assert parse_board_line(encode(record.line).rstrip(b"\n")) == record.line
            if isinstance(record.line, (Report, State, Alive)):
                key = (record.line.board, record.line.boot)
                seq, last = record.line.seq, highest.get(key, 0)
                missing[key].update(range(last + 1, seq + isinstance(record.line, Alive)))
                highest[key] = max(last, seq)
                missing[key].discard(0 if isinstance(record.line, Alive) else seq)
    lost = {(row["board"], row["boot"], row["seq"]) for row in evening.scene.truth.boards if row["what"] == "lost"}
    assert {(*key, seq) for key, gaps in missing.items() for seq in gaps} == lost
    assert len(lost) == (3 if faults == ["losing-board"] else 0)


def test_reports_sent_again_keep_number_and_time(scripted: Stage) -> None:
    evening = scripted.evening(5, ["resent-reports"])
    recording = Recording(evening)
    recording.run()
    again = [row["seq"] for row in evening.scene.truth.boards]
    lines = [r.line for r in recording.records if isinstance(r, Received) and isinstance(r.line, Report)]
    pettymarsh = [line for line in lines if line.board == "pettymarsh"]
    late = [n for n, line in enumerate(pettymarsh) if n and line.seq < pettymarsh[n - 1].seq]
    assert len(again) == 3
    assert {line.seq for line in pettymarsh} >= set(again)
    assert late
    assert all(pettymarsh[n].ms <= pettymarsh[n - 1].ms for n in late)


def test_a_seed_is_an_evening(demo: Stage) -> None:
    def capture(seed: int) -> str:
        return Recording(demo.evening(seed, ["dirty"])).run()

    assert capture(11) == capture(11)
    assert capture(11) != capture(12)


def test_a_seed_is_an_evening_in_another_process(tmp_path: Path) -> None:
    for n, hash_seed in enumerate(("1", "77")):
        start = "import sys; from bridge.cli import main; sys.exit(main())"
        command = [sys.executable, "-c", start, "simulate", str(DEMO), "--seed", "4", "--faults", "dirty"]
        subprocess.run(
            [*command, "--out", str(tmp_path / str(n))],
            env={"PYTHONHASHSEED": hash_seed},
            cwd=DEMO.parents[1],
            check=True,
            capture_output=True,
        )
    for kind in ("capture", "truth.json"):
        assert (tmp_path / f"0.{kind}").read_bytes() == (tmp_path / f"1.{kind}").read_bytes()


def test_the_capture_reads_back_without_a_fault(demo: Stage) -> None:
    text = Recording(demo.evening(2, ["dirty"])).run()
    records = list(read_capture(text.splitlines()))
    assert not [r for r in records if isinstance(r, (CaptureFault, Rejected))]
    times = [r.t for r in records if not isinstance(r, CaptureFault)]
    assert times == sorted(times)
    assert next(r.words for r in records if isinstance(r, Said)) == "begin 19:00"


def test_clean_truth_has_every_move_done_and_nothing_expected(demo: Stage) -> None:
    evening = demo.evening(1, [])
    evening.run()
    truth = json.loads(evening.truth_json())
    assert all(move["done"] for move in truth["moves"])
    assert truth["expected"] == []
    assert truth["boards"] == []
    assert set(truth["vehicles"]) == set(demo.railway.stock)


def test_movement_ends_where_the_vehicles_stand(demo: Stage) -> None:
    evening = demo.evening(1, [])
    on = {stretch: set(vehicles) for stretch, vehicles in evening.scene.world.on.items()}
    evening.run()
    for _, vehicle, way, stretch in evening.scene.truth.movement:
        (on[stretch].add if way == "in" else on[stretch].remove)(vehicle)
    assert {s: v for s, v in on.items() if v} == {s: set(v) for s, v in evening.scene.world.on.items() if v}


def test_whoever_names_orders_can_be_a_crew(demo: Stage) -> None:
    class Shuttle:
        """Back and forth as long as it likes, by looking at where it stands."""

        engine, name = "e2", "shuttle"
        left = 4

        def next_order(self) -> tuple[Order, str] | None:
            here = evening.scene.world.places_of("e2")[0]
            self.left -= 1
            there = "featherlow.platform" if here.startswith("saltgander") else "saltgander.platform"
            return (RunsTo(there), "shuttle:1") if self.left >= 0 else None

    script = read_script(demo.text, demo.file, demo.railway)
    evening = Evening(demo.railway, script, crews=[Shuttle()])
    evening.run()
    arrived = [event["road"] for event in evening.scene.truth.events if event["says"] == "arrived"]
    assert arrived == ["featherlow.platform", "saltgander.platform"] * 2


MISTAKES = {
    "forgotten-set-out": "set-out-forgotten",
    "missed-lift": "lift-missed",
    "wrong-siding": "wagon-misplaced",
    "wrong-road": "wrong-road",
    "section-clash": "section-clash",
    "no-token": "no-authority",
    "overfull": "overfull-road",
    "divided": "train-divided",
    "bridge-open": "not-proved",
    "early-departure": "early-departure",
    "unknown-tag": "tag-unknown",
    "board-silent": "board-lost",
    "lost-reports": "reports-lost",
}


@pytest.mark.parametrize(("name", "kind"), MISTAKES.items())
def test_each_mistake_shows_and_says_by_when(scripted: Stage, name: str, kind: str) -> None:
    evening = scripted.evening(6, [name])
    evening.run()
    truth = json.loads(evening.truth_json())
    assert truth["mistakes"] == [name]
    (expected,) = truth["expected"]
    assert expected["kind"] == kind
    assert evening.begin_s < expected["evidence_t"] <= expected["due_t"] < evening.timeline.now_s
    assert expected["due_t"] - expected["evidence_t"] < 60


def test_mistakes_that_nothing_need_be_said_of(scripted: Stage) -> None:
    for name in set(scripted.choices()) - set(MISTAKES) - set(FAULTS):
        evening = scripted.evening(6, [name])
        evening.run()
        assert json.loads(evening.truth_json())["expected"] == []
