"""A track that drops out for a moment has been left by nobody, however late its board's word of that comes.

The captures are those of `tests/recordings`; a drop-out of 0.3 s is put into one, as over dirty wheels, and the report that
ends it comes in time, or when the track counts as clear by then (after 1 s), also over a stop of the service. So it goes on
demonstration evenings too, where 40 tracks a minute drop out, stopped again and again while lines are on their way. A few
are tried here; any number of them by

    .environment/bin/python -m tests.core.test_flickers FIRST_SEED LAST_SEED
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.core.retold import past
from bridge.folder import load
from bridge.service.replaying import replay
from bridge.virtual.recording import Recording
from bridge.virtual.staging import stage
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record

from ..recordings.said import STRICT
from ..recordings.stopping import with_stop
from ..trials import register as trials
from .retold.test_hindsight import Register, capture, register

DEMO = Path(__file__).parents[2] / "demo" / "railway"
FLICKERS_A_MIN = 40.0
STOPS = 16
LONGEST_AWAY_S = 6.0
LONGEST_HELD_S = 1.0
OUT_MS = 300
LATE_S = 0.9

DROPS = [
    ("wagon-misplaced", 89.385102, "marrow-tip"),  # a wagon set out there was taken to be drawn out again
    ("near-set-out-forgotten", 61.935152, "marrow-mill"),  # a state was kept when the track had just counted as clear
    ("lift-missed", 58.31071, "marrow-mill"),
    ("put-back", 68.575459, "marrow-mill"),
]


def with_drop_out(railway: Railway, records: Sequence[Record], t: float, detector: str, late_s: float) -> list[Record]:
    """A recording in which a detector that is on drops out at host second `t`; its board's later lines count on."""
    now = railway.plant.detectors[detector]
    of_board = [row for row in records if isinstance(row, Received) and row.line.board == now.board]
    last = max((row for row in of_board if row.t <= t), key=lambda row: row.t)
    boot, ms = last.line.boot, last.line.ms + round((t - last.t) * 1000)
    used = max(row.line.seq for row in of_board if row.t <= t and row.line.boot == boot and hasattr(row.line, "seq"))
    back_t = round(t + OUT_MS / 1000 + late_s, 6)
    rows: list[Record] = [
        Received(t, last.link, Report(now.board, boot, used + 1, ms, now.input, "off")),
        Received(back_t, last.link, Report(now.board, boot, used + 2, ms + OUT_MS, now.input, "on")),
    ]
    later = [row for row in of_board if row.t > t and row.line.boot == boot and hasattr(row.line, "seq")]
    renumbered = {id(row): replace(row, line=replace(row.line, seq=row.line.seq + 2)) for row in later}
    return sorted([*rows, *(renumbered.get(id(row), row) for row in records)], key=lambda row: row.t)


def dropped(name: str, t: float, detector: str, late_s: float) -> Register:
    """What a recording comes to with a drop-out whose end is heard so late."""
    railway, records = capture(name)
    return register(list(replay(railway, with_drop_out(railway, records, t, detector, late_s), STRICT)))


@pytest.mark.parametrize(("name", "t", "detector"), DROPS)
@pytest.mark.parametrize("between", [past.LEAST_BETWEEN, -10_000], ids=["kept now and then", "kept at each event"])
def test_the_end_of_a_drop_out_may_come_late(
    monkeypatch: pytest.MonkeyPatch, between: int, name: str, t: float, detector: str
) -> None:
    """Also where what was stated long before was corrected meanwhile: it is stated anew."""
    monkeypatch.setattr(past, "LEAST_BETWEEN", between)
    alone, late = dropped(name, t, detector, 0.0), dropped(name, t, detector, LATE_S)
    assert late[0] - alone[0] == Counter()
    assert alone[0] - late[0] == Counter()
    assert late[1] == alone[1]


@pytest.mark.parametrize(("name", "t", "detector"), DROPS)
def test_the_end_of_a_drop_out_may_come_over_a_stop(name: str, t: float, detector: str) -> None:
    """The track counts as clear just as the service stops; what ends the drop-out is kept for it meanwhile."""
    railway, records = capture(name)
    late = with_drop_out(railway, records, t, detector, LATE_S)
    stopped = with_stop(late, railway.plant, round(t + 1.001, 6))
    rows = [[dict(outcome.as_dict()) for outcome in replay(railway, each, STRICT)] for each in (records, stopped)]
    alone, over_a_stop = (trials.register(said) for said in rows)
    assert trials.differences(alone, over_a_stop) == []


def evening(seed: int) -> tuple[Railway, list[Record]]:
    """A demonstration evening with flickering tracks."""
    railway = load(DEMO).railway
    assert railway is not None
    made = stage(railway, DEMO / "evening.script").evening(seed, ())
    inputs = made.scene.inputs
    inputs.noise = replace(inputs.noise, flickers_per_min=FLICKERS_A_MIN)
    read = list(read_capture(Recording(made).run().splitlines()))
    return railway, [row for row in read if not isinstance(row, CaptureFault)]


def stopped_often(railway: Railway, records: list[Record], seed: int) -> list[Record]:
    """The service is stopped and started at random instants, not twice within a second."""
    chance = random.Random(f"stops {seed}")
    free_t = 0.0
    for stop_t in sorted(chance.uniform(15.0, records[-1].t - 25.0) for _ in range(STOPS)):
        away_s = chance.choice([0.5, chance.uniform(0.3, LONGEST_AWAY_S)])
        held_s = chance.choice([0.0, chance.uniform(0.0, LONGEST_HELD_S)])
        if stop_t - held_s > free_t + 1.0:
            records = with_stop(records, railway.plant, round(stop_t, 6), round(away_s, 6), round(held_s, 6))
            free_t = stop_t + away_s
    return records


def differs(seed: int) -> list[str]:
    """Departures too early left out: the session clock stands while the service is stopped, so by it trains leave sooner."""
    railway, records = evening(seed)
    rows = [
        [
            row
            for outcome in replay(railway, each, STRICT)
            if (row := dict(outcome.as_dict())).get("kind") != "early-departure"
        ]
        for each in (records, stopped_often(railway, records, seed))
    ]
    return trials.differences(*(trials.register(said) for said in rows))


def test_an_evening_of_flickering_tracks_stopped_often_has_the_same_register() -> None:
    assert differs(1) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 5))
def test_no_evening_of_flickering_tracks_is_changed_by_stops(seed: int) -> None:
    assert differs(seed) == []


def main(first: int, last: int) -> int:
    """Try the evenings of these seeds; 1 where one is changed by stops."""
    changed = 0
    for seed in range(first, last + 1):
        found = differs(seed)
        changed += bool(found)
        print(f"seed {seed}: {'; '.join(found) or 'the same register'}", flush=True)
    return int(bool(changed))


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:3])))
