"""Measures how often each kind of belief is true, over virtual sessions, and prints the table of `whereabouts.sureness`.

    python3 tests/core/measure_sureness.py [--seeds 1 2 3]      (in the project's environment; a few minutes)

Every statement of whereabouts of an evening is held against the truth at that moment, two seconds either way allowed for a
vehicle that is just crossing. Evenings: the demonstration railway with all its detectors, with some readers or track
detectors taken away, and with readers at the section ends alone; clean, with one read in twenty missed, and dirty. Rule: the
figures are counted, never chosen; seeds used here are not those of any test that judges the table.
"""

from __future__ import annotations

import argparse
import bisect
import json
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from bridge.core.events import DeadlinePassed, FolderTaken, Journalled
from bridge.core.fold import due, fold
from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind
from bridge.core.state import fresh
from bridge.core.whereabouts.follower import Follower
from bridge.core.whereabouts.sureness import ground
from bridge.folder import load
from bridge.virtual.recording import Recording
from bridge.virtual.staging import stage
from bridge.wire.capture import CaptureFault, read_capture

DEMO = Path(__file__).resolve().parents[2] / "demo" / "railway"
SLACK_S = 2.0
NOISES: tuple[tuple[str, ...], ...] = ((), ("missed-reads",), ("dirty",))


def layouts(railway: Railway, seed: int) -> Iterator[Railway]:
    """The railway as it is wired, and as poorer owners would wire it."""
    chance = random.Random(seed)
    yield railway
    for keeps in (
        lambda d: d.kind is not DetectorKind.READER or chance.random() < 0.7,
        lambda d: d.kind is not DetectorKind.TRACK or chance.random() < 0.5,
        lambda d: d.kind is not DetectorKind.READER or (d.at or "").partition("@")[0] in railway.plant.sections,
    ):
        yield without(railway, keeps)


def without(railway: Railway, keeps: Callable[[Detector], bool]) -> Railway:
    """The railway with only the detectors that are kept."""
    kept = {id: d for id, d in railway.plant.detectors.items() if keeps(d)}
    return replace(railway, plant=replace(railway.plant, detectors=kept))


def statements(railway: Railway, seed: int, noise: tuple[str, ...]) -> Iterator[tuple[tuple[str, str, str], bool]]:
    """Each statement of an evening: by which way it was reached, and whether it was true."""
    evening = stage(railway, DEMO / "evening.script").evening(seed, noise)
    lines = Recording(evening).run().splitlines()
    ways = paths(json.loads(evening.truth_json()), railway)
    state, n = fresh(strict=True), 0
    for record in read_capture(lines):
        if isinstance(record, CaptureFault):
            continue
        events = [] if n else [FolderTaken(record.t, railway)]
        while (t := due(state)) is not None and t <= record.t:
            state, said = fold(state, DeadlinePassed(t))
            yield from judge(state.where, said, ways)
        n += 1
        for event in (*events, Journalled(n, record)):
            state, said = fold(state, event)
            yield from judge(state.where, said, ways)


def judge(where: object, said: tuple, ways: dict[str, tuple[list[float], list[str]]]) -> Iterator:
    """The statements among some outcomes, each held against the truth."""
    assert isinstance(where, Follower)
    for outcome in said:
        if outcome.says == "whereabouts":
            vehicle = outcome.keys["vehicle"]
            mark = where.mark(vehicle)
            times, places = ways[vehicle]
            first = max(0, bisect.bisect_right(times, outcome.t - SLACK_S) - 1)
            last = bisect.bisect_right(times, outcome.t + SLACK_S)
            told = ground(where.plant, outcome.keys["place"])
            yield (mark.by, mark.how, told), outcome.keys["place"] in places[first:last]


def paths(truth: dict, railway: Railway) -> dict[str, tuple[list[float], list[str]]]:
    """When each vehicle came to which stretch."""
    found = {row.vehicle: ([0.0], [row.place]) for row in railway.standing}
    for t, vehicle, way, place in truth["movement"]:
        if way == "in":
            found[vehicle][0].append(t)
            found[vehicle][1].append(place)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--seeds", type=int, nargs="+", default=[101, 102, 103])
    seeds = parser.parse_args().seeds
    made: Counter[tuple[str, str, str]] = Counter()
    true: Counter[tuple[str, str, str]] = Counter()
    whole = load(DEMO).railway
    assert whole is not None
    for seed in seeds:
        for railway in layouts(whole, seed):
            for noise in NOISES:
                for key, right in statements(railway, seed, noise):
                    made[key] += 1
                    true[key] += right
    for key in sorted(made):
        share = (true[key] + 1) / (made[key] + 2)  # one of each before counting: a kind seen seldom is not called certain
        print(f'    ("{key[0]}", "{key[1]}", "{key[2]}"): {share:.3f},  # {true[key]} of {made[key]}')


if __name__ == "__main__":
    main()
