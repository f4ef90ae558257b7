"""A stop and a start of the service, at whatever instant of a recording, leave the register as it would have been.

What is compared, and what a stop honestly changes in a register: `tests/trials/register.py`.
"""

from __future__ import annotations

import json
import random
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.service.replaying import replay
from bridge.wire.lines import State
from bridge.wire.records import HostStarted, HostStopped, Received, Record

from ..trials.register import differences, register
from .said import STRICT, folder_of, records_of, sessions
from .scene import railway_of
from .stopping import AWAY_S, with_stop

HERE = Path(__file__).parent
CAPTURES = sorted(path.stem for path in HERE.glob("*.capture"))
STOPS = 4
"""Instants a recording that are tried on CI; as many as are wanted, `tests/stops.py` tries."""

COUNTED = "a passage at the moment of the stop is counted otherwise, and of so few that decides"
HONEST = {
    "reader-weak": COUNTED,
    "reader-weak-dead": COUNTED,
    "near-reader-weak": COUNTED,
    "cleared-incomplete-then-proved": "with the stop it is quiet for longer, so that what stands in a throat is settled",
    "board-lost-never-heard": "a board is missed 6 s after a start at the earliest, and the recording ends before that",
}
"""Recordings in which a stop may leave a register otherwise, and why that is right."""

FOUND = [
    ("coach-that-works-no-detector", 53.77, AWAY_S),  # a track stated as occupied was taken for a movement beside the coach
    ("near-section-clash", 113.04, AWAY_S),
    ("two-tags-on-one-vehicle", 46.12, AWAY_S),
    ("token-by-word", 12.82, AWAY_S),  # a token given by word was taken back, as it was stated to lie where it had lain
    ("goods-whole-run", 16.398, 7.0),  # an engine's tag, read just after the stop, was taken to be read as late as it came
    ("token-by-word", 24.106, 7.0),
    ("put-back", 54.614, 7.0),
    ("section-clash-with-what-ran-away", 29.806631, AWAY_S),  # for how long throats had been clear counted from the stop
    ("wagon-unbooked-by-hand", 74.609976, AWAY_S),  # and for how long readers had been heard
    ("section-clash-with-what-was-left", 105.287431, AWAY_S),  # a throat that is stated to be clear still was weighed anew
    ("unexplained-occupation", 29.177418, AWAY_S),  # what came during the stop was judged before all boards had answered
    ("train-divided-tail-silent", 179.540132, AWAY_S),  # what was told clear was cleared with the next word of any detector
]
"""Stops that did make a difference once, and how long the service was away."""


@cache
def recording(name: str) -> tuple[Railway, list[Record]]:
    text = (HERE / f"{name}.capture").read_text(encoding="utf-8")
    return railway_of(folder_of(text)), records_of(text)


def registers(railway: Railway, records: list[Record]) -> list[dict[str, Any]]:
    """What each session's register comes to."""
    rows = [json.loads(json.dumps(outcome.as_dict())) for outcome in replay(railway, records, STRICT)]
    return [register(session) for session in sessions(rows)]


@cache
def undisturbed(name: str) -> list[dict[str, Any]]:
    return registers(*recording(name))


def differs(name: str, stop_t: float, away_s: float = AWAY_S) -> list[str]:
    """In what the registers with a stop at that instant are others."""
    railway, records = recording(name)
    alone, stopped = undisturbed(name), registers(railway, with_stop(records, railway.plant, stop_t, away_s))
    return [line for one, other in zip(alone, stopped, strict=True) for line in differences(one, other)]


def instant(name: str, seed: int) -> float:
    """A moment at which the service runs."""
    chance, records = random.Random(f"{name} {seed}"), recording(name)[1]
    while True:
        t = round(chance.uniform(1.1, records[-1].t), 6)
        turns = [record for record in records if isinstance(record, HostStarted | HostStopped) and record.t <= t]
        if isinstance(turns[-1], HostStarted):
            return t


@pytest.mark.parametrize(("name", "stop_t", "away_s"), FOUND)
def test_a_stop_that_once_made_a_difference(name: str, stop_t: float, away_s: float) -> None:
    assert differs(name, stop_t, away_s) == []


@pytest.mark.parametrize("name", [name for name in CAPTURES if name not in HONEST])
def test_a_stop_changes_no_register(name: str) -> None:
    t = instant(name, 0)
    assert differs(name, t) == [], t


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in CAPTURES if name not in HONEST])
def test_no_stop_changes_a_register(name: str) -> None:
    found = {t: lines for seed in range(1, STOPS) if (lines := differs(name, t := instant(name, seed)))}
    assert not found


def test_what_is_excused_does_differ_somewhere() -> None:
    assert differs("board-lost-never-heard", 7.117505) == [
        "irregularities: Counter({('board-lost', ('board', 'oxlip')): 1}) became Counter()"
    ]
    assert set(HONEST) <= set(CAPTURES)


def test_what_was_stopped_is_stated_anew() -> None:
    """The stop that is put in is one: boards are asked, and answer by numbers of their own."""
    railway, records = recording("token-by-word")
    stopped = with_stop(records, railway.plant, 12.82)
    assert len(stopped) == len(records) + 2 + 3 + 3 + len(railway.plant.detectors)  # host, links, hellos, inputs
    assert [record.t for record in stopped] == sorted(record.t for record in stopped)


def test_a_token_laid_back_meanwhile_is_returned() -> None:
    """What is stated otherwise than before the stop is news: p1's token, lifted at 15.2 s, lies on its rest again."""
    railway, records = recording("coach-that-works-no-detector")
    stopped = with_stop(records, railway.plant, 17.0)
    at = next(at for at, row in enumerate(stopped) if isinstance(row, Received) and is_stated(row, "oxlip", 7, 17.0))
    stopped[at] = replace(stopped[at], line=replace(stopped[at].line, value="tag=04A1B2C301"))  # type: ignore[union-attr]
    said = [outcome for outcome in replay(railway, stopped, STRICT) if outcome.says == "authority" and outcome.t < 20.0]
    assert [(row.keys["train"], row.keys["state"]) for row in said[-2:]] == [("p1", "given"), ("p1", "returned")]


def is_stated(row: Received, board: str, number: int, since_t: float) -> bool:
    line = row.line
    return isinstance(line, State) and (line.board, line.input) == (board, number) and row.t > since_t
