"""The truth's tables, held against where the vehicles are: an independent judge works that out from rakes and runs alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.folder import read
from bridge.virtual.evening import Evening
from bridge.virtual.growing.railway import grow
from bridge.virtual.staging import Stage, stage

from .conftest import DEMO, demonstration
from .geometry import pieces_now

Row = list[Any]


def as_of(table: list[Row], t_s: float) -> dict[str, Row]:
    """What holds at an instant, as the text of the truth says: the last row of each thing at or before it."""
    return {row[1]: row[2:] for row in table if row[0] <= t_s + 1e-6}


def sampled(evening: Evening, chance: Random) -> Iterator[tuple[float, dict[str, list[str]], dict[str, set[str]], set[str]]]:
    """Instants of an evening while it runs: seconds, lines, what is coupled with each engine, tokens that lie on a rest."""
    evening.start()
    world, tokens, next_s = evening.scene.world, evening.scene.tokens, 0.0
    while not evening.finished:
        evening.timeline.step()
        now_s, following_s = evening.timeline.now_s, evening.timeline.next_s
        if now_s < next_s or following_s is None or following_s - now_s < 1e-3:
            continue
        next_s = now_s + chance.uniform(0.2, 5.0)
        at_s = chance.uniform(now_s + 1e-4, following_s - 1e-4)
        lines = {s: [vehicle for _, _, vehicle in rows] for s, rows in pieces_now(world, at_s).items()}
        coupled = {v.id: set(rake.ids) for rake in world.rakes.values() for v in rake.vehicles if v.kind == "engine"}
        yield at_s, lines, coupled, {s for s in evening.railway.plant.sections if tokens.lies_at(s) is not None}


@settings(max_examples=8, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    by_plan=st.booleans(),
    chosen=st.lists(st.sampled_from(["wrong-siding", "overfull", "divided", "no-token", "section-clash"]), unique=True),
    hand=st.sampled_from([[], ["moved-by-hand"], ["misplaced"]]),
)
def test_the_tables_say_what_is_so(seed: int, by_plan: bool, chosen: list[str], hand: list[str]) -> None:
    made = stage(demonstration(), None if by_plan else DEMO / "evening.script")
    evening = made.evening(seed, hand + chosen[:1])
    assert told_as_it_was(evening, seed) > 150


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_tables_say_what_is_so_on_any_railway(seed: int) -> None:
    found = read({name: text.encode() for name, text in grow(seed).texts.items()})
    assert found.railway is not None
    told_as_it_was(Stage(found.railway).evening(seed, []), seed)


def told_as_it_was(evening: Evening, seed: int) -> int:
    """Hold the tables against instants of an evening; how many were looked at."""
    samples = list(sampled(evening, Random(seed)))
    truth = json.loads(evening.truth_json())
    for at_s, lines, coupled, lying in samples:
        told = {stretch: line for stretch, (line,) in as_of(truth["lines"], at_s).items()}
        for stretch in told.keys() | lines:
            one, other = told.get(stretch, []), lines.get(stretch, [])
            if stretch in evening.railway.plant.throats:  # overhangs of two roads lie side by side there
                one, other = sorted(one), sorted(other)
            assert one == other, (at_s, stretch)
        trains = as_of(truth["trains"], at_s)
        assert {engine: set(ids) for engine, (_, ids) in trains.items()} == coupled
        assert {s for s, (station, _) in as_of(truth["tokens"], at_s).items() if station is not None} == lying
        names = {engine: working or engine for engine, (working, _) in trains.items()}
        told = as_of(truth["sections"], at_s)
        for section in evening.railway.plant.sections:
            there = set(lines.get(section, ()))
            within = sorted(names[engine] for engine, ids in coupled.items() if ids & there)
            loose = sorted(there.difference(*coupled.values()))
            assert told.get(section, [[], []]) == [within, loose], (at_s, section)
    return len(samples)


def test_the_tables_are_small_and_in_order_of_time(demo: Stage) -> None:
    evening = demo.evening(1, [])
    evening.run()
    text = evening.truth_json()
    truth = json.loads(text)
    assert len(text) < 200_000
    for table in ("lines", "trains", "sections", "tokens", "movement"):
        times = [row[0] for row in truth[table]]
        assert times == sorted(times)
        assert times[-1] <= truth["end_t"]
    for table in ("lines", "trains", "sections", "tokens"):
        keys = [(row[0], row[1]) for row in truth[table]]
        assert len(keys) == len(set(keys))
    assert truth["lines"] != []
    assert {stretch: line for stretch, (line,) in as_of(truth["lines"], truth["end_t"]).items() if line}.items() >= {
        stretch: ids for stretch, ids in truth["roads"].items() if not any(truth["vehicles"][v]["fouls"] for v in ids)
    }.items()


def test_trains_and_tokens_are_as_the_timetable_has_them(demo: Stage) -> None:
    evening = demo.evening(1, [])
    evening.run()
    truth = json.loads(evening.truth_json())
    worked = {row[2] for row in truth["trains"] if row[2] is not None}
    assert worked == set(demo.railway.workings)
    for working in demo.railway.workings.values():
        made_up = [set(ids) for _, engine, train, ids in truth["trains"] if (engine, train) == (working.engine, working.id)]
        assert {working.engine, *working.rake} in made_up
    entered = [(e["section"], e["train"]) for e in truth["events"] if e["says"] == "entered"]
    there = [(section, train) for _, section, trains, _ in truth["sections"] for train in trains]
    assert set(entered) <= set(there)
    for section in {row[1] for row in truth["tokens"]}:
        rows = [row[2:] for row in truth["tokens"] if row[1] == section]
        assert all((station is None) != (engine is None) for station, engine in rows[1:])
        assert all(one != other for one, other in pairwise(rows))


SHOWN_BY = {
    "wrong-road": {"lanternby-platform"},
    "no-token": {"pettymarsh-line", "pettymarsh-down-reader", "pettymarsh-down-tail"},
    "unknown-tag": {"pettymarsh-up-reader"},
    "divided": {"saltgander-line", "saltgander-end-reader", "saltgander-end-treadle"},
    "board-silent": set(),
}


@pytest.mark.parametrize(("mistake", "detectors"), SHOWN_BY.items())
def test_a_mistake_names_the_detectors_that_show_it(scripted: Stage, mistake: str, detectors: set[str]) -> None:
    evening = scripted.evening(6, [mistake])
    evening.run()
    (expected,) = json.loads(evening.truth_json())["expected"]
    assert set(expected["by"]) == detectors
