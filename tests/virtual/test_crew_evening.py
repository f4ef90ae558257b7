"""The demonstration railway worked by crews: all of its plan, whoever they are, the same for the same seed, and fast."""

from __future__ import annotations

import json
import time

import pytest

from bridge.virtual.crew.company import begin_s, company
from bridge.virtual.crew.manner import MANNERS, Manner, manner_of
from bridge.virtual.evening import Evening
from bridge.virtual.recording import Recording
from bridge.virtual.script import Script
from bridge.virtual.staging import stage
from bridge.virtual.world import NEAR_MM

from .conftest import demonstration
from .geometry import overlaps, pieces_now

TIMES_REAL = 500.0  # an evening has to be over so many times as fast as its own time


def by_crews(seed: int, faults: tuple[str, ...] = ()) -> Evening:
    """An evening of the demonstration railway without its script."""
    return stage(demonstration()).evening(seed, faults)


@pytest.mark.parametrize("seed", range(1, 6))
def test_all_of_the_plan_is_worked_whatever_the_seed(seed: int) -> None:
    evening = by_crews(seed)
    evening.run()
    truth = json.loads(evening.truth_json())
    assert all(move["done"] for move in truth["moves"])
    assert truth["reasons"] == []
    arrived = {(event["train"], event["road"]) for event in truth["events"] if event["says"] == "arrived"}
    workings = evening.railway.workings.values()
    assert arrived == {(working.id, call.road) for working in workings for call in working.calls[1:]}


@pytest.mark.parametrize("manner", MANNERS, ids=lambda manner: manner.name)
def test_any_manner_works_it(manner: Manner) -> None:
    evening = Evening(demonstration(), Script(begin_s(demonstration())), seed=1)
    crews, book = company(evening.scene, 1, manner=lambda engine, seed: manner)
    evening.hire(crews)
    evening.run()
    assert book.lists.undone() == []
    assert book.reasons == []


def test_manners_differ_by_seed_and_engine() -> None:
    assert {manner_of("e1", seed).name for seed in range(20)} == {manner.name for manner in MANNERS}
    assert len({manner_of(f"e{n}", 1).name for n in range(20)}) > 1


def test_nothing_overlaps_at_any_time() -> None:
    evening = by_crews(3)
    evening.start()
    looked, next_s = 0, 0.0
    while not evening.finished:
        evening.timeline.step()
        if evening.timeline.now_s >= next_s:
            next_s, looked = evening.timeline.now_s + 0.7, looked + 1
            assert overlaps(evening.scene.world, pieces_now(evening.scene.world, evening.timeline.now_s), NEAR_MM) == []
    assert looked > 1000


def test_a_seed_is_an_evening() -> None:
    def made(seed: int) -> tuple[str, str]:
        evening = by_crews(seed, ("dirty",))
        return Recording(evening).run(), evening.truth_json()

    assert made(11) == made(11)
    assert made(11) != made(12)


def test_it_is_over_long_before_its_own_time(capsys: pytest.CaptureFixture[str]) -> None:
    evening = by_crews(1)
    began_s = time.process_time()
    evening.run()
    times = evening.timeline.now_s / (time.process_time() - began_s)
    with capsys.disabled():
        print(f"\nthe demonstration worked by crews: {evening.timeline.now_s:.0f} s, {times:.0f} times real time")
    assert times > TIMES_REAL
