"""A sample of the trial: its figures are those of an independent count, and the number of workers changes nothing."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bridge.service.replaying import replay
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage
from bridge.virtual.verdict import held_against

from .cells import CELLS, DEMONSTRATION, GROWN, Job, Played, play, railway_of
from .engines import IN_FORCE, TOGGLE
from .tables import as_json, report
from .trial import jobs_of, run

SEED = 501
GROWN_SAMPLE = ("grown clean", "grown dirty")


@pytest.fixture(scope="module")
def clean() -> Played:
    return play(Job("clean", SEED))


@pytest.fixture(scope="module")
def sample() -> list[Played]:
    return run(jobs_of(GROWN_SAMPLE, (), 1), 1)


def test_of_a_clean_evening_the_core_is_all_right_at_the_end(clean: Played) -> None:
    counts = clean.judged[IN_FORCE].counts
    for name in ("end all", "end moved", "end lines", "end pairs", "moves known"):
        assert counts[name].of > 0
        assert counts[name].right == counts[name].of, name
    assert counts["moves untrue"].right == 0
    assert [counts[f"false {level}"].of for level in ("danger", "caution", "note")] == [0, 0, 0]


def test_the_core_is_nowhere_behind_the_plainest_tracker(clean: Played) -> None:
    core, toggle = (clean.judged[name].counts for name in (IN_FORCE, TOGGLE))
    for name in ("end all", "end moved", "left all", "left moved", "left pairs"):
        assert core[name].of == toggle[name].of
        assert core[name].right > toggle[name].right, name


def test_the_figures_are_those_of_an_independent_count(sample: list[Played]) -> None:
    """By a replay, the verdict on it, and the movements and statements counted one by one; of a railway with few detectors,
    where much is believed that is not so."""
    railway = railway_of(GROWN, SEED)
    evening = Stage(railway).evening(SEED, [])
    recording = Recording(evening)
    recording.run()
    truth = json.loads(evening.truth_json())
    rows = [outcome.as_dict() for outcome in replay(railway, recording.records)]
    judged = sample[0].judged[IN_FORCE]
    verdict = held_against(truth, rows)
    assert judged.counts["end all"].of == verdict.vehicles
    assert judged.counts["end all"].right == verdict.vehicles - len(verdict.misplaced)
    assert verdict.misplaced, "an evening of which all is known tells little about the count"
    moved = {vehicle for _, vehicle, way, _ in truth["movement"] if way == "out"}
    assert judged.counts["end moved"].of == len(moved)
    assert judged.said.n == sum(row["says"] == "whereabouts" for row in rows)
    assert sum(each.right for each in judged.said.bins) == sum(_is_true(truth, row) for row in rows)
    assert judged.held.n == sum(event["says"] == "departed" for event in truth["events"]) * verdict.vehicles


def _is_true(truth: dict[str, Any], row: dict[str, Any]) -> bool:
    """Whether a statement of whereabouts is so within two seconds: by the times at which its vehicle came and went."""
    if row["says"] != "whereabouts":
        return False
    vehicle, place = row["vehicle"], row["place"]
    is_there = any(vehicle in line for t, stretch, line in truth["lines"] if t == 0.0 and stretch == place)
    came_s = 0.0 if is_there else None
    for t, who, way, stretch in truth["movement"]:
        if (who, stretch) == (vehicle, place):
            if way == "out" and came_s is not None and came_s <= row["t"] + 2.0 and t > row["t"] - 2.0:
                return True
            came_s = t if way == "in" else None
    return came_s is not None and came_s <= row["t"] + 2.0


def test_two_workers_give_what_one_gives(sample: list[Played]) -> None:
    def without_cost(played: list[Played]) -> list[Any]:
        rows = json.loads(json.dumps(as_json(played)))
        for row in rows:
            for engine in row["engines"].values():
                assert engine.pop("micros")
        return rows  # type: ignore[no-any-return]

    assert without_cost(run(jobs_of(GROWN_SAMPLE, (), 1), 2)) == without_cost(sample)


def test_a_mistake_without_an_occasion_says_so_and_counts_nowhere(sample: list[Played]) -> None:
    without = play(Job("wrong-token", SEED))
    assert "nowhere do two trains stand beside each other for the same token" in without.why
    assert without.judged == {}
    assert _row([*sample, without], "wrong-token")[:3] == ["wrong-token", "", "no occasion"]
    assert _row([*sample, without], "*all*")[2] == "2 (1 no occasion)"
    assert _row([*sample, without], "*all*")[3:] == _row(sample, "*all*")[3:]


def _row(played: list[Played], cell: str) -> list[str]:
    """The first row of the table that is of a cell."""
    found = next(line for line in report(played).splitlines() if line.startswith(f"| {cell} |"))
    return [column.strip() for column in found.strip("|").split("|")]


def test_every_noise_mistake_and_fault_has_a_cell() -> None:
    names = {name for cell in CELLS.values() for name in cell.names}
    assert names == set(Stage(railway_of(DEMONSTRATION, SEED)).choices())
    assert len(jobs_of(CELLS, (1, 2), 3)) == 2 * (len(CELLS) - 3) + 3 * 3
