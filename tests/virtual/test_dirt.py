"""Dirt on rails, wheels and tags: drop-outs against figures from outside, and how dirty an evening is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import pairwise

import pytest

from bridge.virtual.evening import Evening
from bridge.virtual.physics import Dirt, Physics
from bridge.virtual.script import Script
from bridge.virtual.staging import Stage

from .passes import ALONE, ENGINE, TOGETHER, TRACK, Line, Seen, passes

# -- dirt --------------------------------------------------------------------------------------------------------------


def drops(seen: Seen) -> int:
    return sum(what == "drop" for what, _, _ in seen.happened)


def test_nothing_drops_out_where_nothing_is_dirty(line: Line) -> None:
    seen = passes(line(TRACK, ENGINE, TOGETHER), 150, 40, Physics(dirt=Dirt({"ash.road": 1.0}, {"nobody": 0.0})))
    assert drops(seen) == 0
    assert [r.value for r in seen.reports] == ["on", "off"] * 40


# Source: users of detectors report drop-outs of 20 ms to 1 s, more with short light trains.
@pytest.mark.parametrize("dirt", [Dirt(rails={"ash-elm": 1.0}), Dirt(wheels={"e1": 1.0})], ids=["rails", "wheels"])
def test_short_light_trains_drop_out_more(line: Line, dirt: Dirt, figure: Callable[[str], None]) -> None:
    alone = passes(line(TRACK, ENGINE, ALONE, length=3000), 100, 60, Physics(dirt=dirt))
    train = passes(line(TRACK, ENGINE, TOGETHER, length=3000), 100, 60, Physics(dirt=dirt))
    what = "rails" if dirt.rails else "wheels"
    figure(f"drop-outs over dirty {what}: {drops(alone)} of an engine alone, {drops(train)} with two wagons")
    assert drops(alone) > 1.5 * drops(train) > 20


def test_a_drop_out_lasts_20_ms_to_1_s_and_all_are_reported_but_those_within_the_debounce(line: Line) -> None:
    seen = passes(line(TRACK, ENGINE, ALONE, length=3000), 100, 60, Physics(dirt=Dirt(rails={"ash-elm": 1.0})))
    first = seen.reports[0].ms
    values = [((r.ms - first) % (1 << 32), r.value) for r in seen.reports]
    assert [value for _, value in values] == ["on", "off"] * (len(values) // 2)
    gaps = [on - off for (off, value), (on, _) in pairwise(values) if value == "off" and on - off < 1_050]
    assert len(gaps) > 100
    assert 18 <= min(gaps) < 40
    assert 700 < max(gaps) <= 1_003


def test_what_stands_drops_out_less(line: Line) -> None:
    railway = line(TRACK, ENGINE, ALONE)
    evening = Evening(railway, Script(), physics=Physics(dirt=Dirt(rails={"ash-elm": 1.0})), crews=[])
    contact = evening.scene.inputs.contact
    (track,) = railway.plant.detectors.values()
    engine = [railway.stock["e1"]]
    contact.runs = lambda vehicle: True
    running = contact.drops_per_min(track, engine)
    contact.runs = lambda vehicle: False
    assert 0 < contact.drops_per_min(track, engine) < 0.1 * running
    assert contact.drops_per_min(track, []) == 0


# -- whole evenings ----------------------------------------------------------------------------------------------------


def counted(demo: Stage, seed: int, names: list[str]) -> tuple[Counter[str], float]:
    """What happened in an evening, and its minutes."""
    evening = demo.evening(seed, names)
    found: Counter[str] = Counter()
    evening.scene.inputs.witness = lambda what, detector, subject: found.update([what])
    evening.run()
    return found, (evening.timeline.now_s - evening.begin_s) / 60


def test_on_a_clean_evening_every_tag_is_read_and_nothing_drops_out(demo: Stage) -> None:
    for seed in (1, 2):
        found, _ = counted(demo, seed, [])
        assert set(found) == {"read"}
        assert found["read"] > 150


def test_how_dirty_dirty_is(demo: Stage, figure: Callable[[str], None]) -> None:
    """About as much as the dice do: one tag in twenty unread, six drop-outs and half a garbled tag a minute."""
    found: Counter[str] = Counter()
    minutes = 0.0
    for seed in range(1, 9):
        counts, lasted = counted(demo, seed, ["dirty"])
        found, minutes = found + counts, minutes + lasted
    unread = found["unread"] / (found["unread"] + found["read"])
    figure(
        f"dirty, 8 evenings: {unread:.3f} of passes unread, {found['drop'] / minutes:.1f} drop-outs"
        f" and {found['false-read'] / minutes:.2f} garbled tags a minute"
    )
    assert 0.03 < unread < 0.075
    assert 4 < found["drop"] / minutes < 8
    assert 0.25 < found["false-read"] / minutes < 0.8
