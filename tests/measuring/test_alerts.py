"""A sample of the quality of alerts: what is planted is found in time, a quiet evening stays quiet, both judged rightly."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from bridge.service.replaying import replay
from bridge.virtual.crew.mistakes import MISTAKES
from bridge.virtual.faults import FAULTS
from bridge.wire.records import Received

from .alert_evenings import EVERYDAY, Heard, Plan, Played, everyday, heard, plans, play
from .alert_tables import report
from .alerts import Alerts, judged
from .cells import DEMONSTRATION, GROWN, railway_of
from .evidence import told_t
from .foretold import came_true

SEED = 701


@pytest.fixture(scope="module")
def quiet() -> Played:
    return play(Plan(DEMONSTRATION, SEED))


def test_of_a_quiet_evening_under_everyday_noise_nothing_false_is_said(quiet: Played) -> None:
    """One in which a train was once taken to be back from a shunt, and to have gone out again without authority."""
    assert quiet.hours > 0.2
    assert (quiet.failed, quiet.alerts) == ("", Alerts())


def test_a_danger_planted_under_everyday_noise_is_found_in_time(clash: tuple[Heard, list[dict[str, Any]]]) -> None:
    evening, said = clash
    alerts = judged(evening.truth, evening.railway, evening.records, said)
    assert [(one.kind, one.in_time, one.shown) for one in alerts.planted] == [("section-clash", True, True)]
    assert alerts.false == []


def test_a_wagon_in_the_wrong_siding_is_found_in_time_where_its_reader_reads() -> None:
    played = play(Plan(DEMONSTRATION, SEED, "wrong-siding", missed=0.0))
    assert [(one.kind, one.in_time, one.shown) for one in played.alerts.planted] == [("wagon-misplaced", True, True)]
    assert played.alerts.false == []


def test_a_mistake_without_an_occasion_counts_nowhere(quiet: Played) -> None:
    without = play(Plan(DEMONSTRATION, SEED, "wrong-token"))
    assert "nowhere do two trains stand beside each other for the same token" in without.why
    assert "1 evenings of 0 hours; 1 more gave no occasion" in report([quiet, without])


@pytest.fixture(scope="module")
def clash() -> tuple[Heard, list[dict[str, Any]]]:
    evening = heard(Plan(DEMONSTRATION, SEED, "section-clash"))
    said = [outcome.as_dict() for outcome in replay(evening.railway, evening.records)]
    return evening, json.loads(json.dumps(said))


def test_a_danger_that_is_told_too_late_is_late(clash: tuple[Heard, list[dict[str, Any]]]) -> None:
    evening, said = clash
    for later_s, in_time in ((0.0, True), (1.0, True), (3.0, False)):
        rows = [{**row, "t": row["t"] + later_s} if row.get("kind") == "section-clash" else row for row in said]
        (one,) = judged(evening.truth, evening.railway, evening.records, rows).planted
        assert (one.found, one.in_time) == (True, in_time), later_s


def test_what_is_not_told_is_missed_and_what_is_told_of_nothing_is_false(clash: tuple[Heard, list[dict[str, Any]]]) -> None:
    evening, said = clash
    rows = [row for row in said if row["says"] != "irregularity"]
    (one,) = judged(evening.truth, evening.railway, evening.records, rows).planted
    assert not one.found
    word = next(row for row in said if row.get("kind") == "section-clash")
    other = {**word, "kind": "not-proved", "id": "i99", "n": 9999}
    alerts = judged(evening.truth, evening.railway, evening.records, [*said, other])
    assert [(one.kind, one.level, one.folded) for one in alerts.false] == [("not-proved", "danger", False)]


def test_of_a_train_that_goes_back_before_anything_reports_nothing_has_told(
    clash: tuple[Heard, list[dict[str, Any]]],
) -> None:
    evening, _ = clash
    (expected,) = evening.truth["expected"]
    section, met_t = expected["subject"]["section"], expected["evidence_t"]
    told = told_t(evening.truth, evening.railway, evening.records, expected)
    assert told is not None and abs(told - met_t) < 2.0
    before = [row for row in evening.truth["sections"] if row[0] <= met_t]
    back = {**evening.truth, "sections": [*before, [told - 1e-6, section, expected["subject"]["trains"][1:], []]]}
    assert told_t(back, evening.railway, evening.records, expected) is None


def test_of_a_clash_with_a_train_of_which_nothing_told_nobody_can_know(clash: tuple[Heard, list[dict[str, Any]]]) -> None:
    evening, _ = clash
    (expected,) = evening.truth["expected"]
    after = [record for record in evening.records if record.t >= expected["evidence_t"] - 0.1]
    assert told_t(evening.truth, evening.railway, after, expected) is None


@pytest.fixture(scope="module")
def divided() -> Heard:
    """A train that leaves its rear in a section."""
    return heard(Plan(DEMONSTRATION, SEED, "divided"))


def test_of_a_train_divided_the_detectors_have_told_where_it_came_out_and_left_something_they_feel(divided: Heard) -> None:
    (expected,) = divided.truth["expected"]
    assert told_t(divided.truth, divided.railway, divided.records, expected) is not None


def test_of_a_train_divided_that_nothing_saw_come_out_nobody_can_know(divided: Heard) -> None:
    (expected,) = divided.truth["expected"]
    section = expected["subject"]["section"]
    covering = {(d.board, d.input) for d in divided.railway.plant.covering[section]}
    alone = [
        r for r in divided.records if isinstance(r, Received) and (r.line.board, getattr(r.line, "input", 0)) in covering
    ]
    assert told_t(divided.truth, divided.railway, alone, expected) is None


def test_what_works_no_detector_and_has_no_tag_is_left_behind_without_a_sign(divided: Heard) -> None:
    (expected,) = divided.truth["expected"]
    bare = {v: replace(vehicle, tags=(), detected=False) for v, vehicle in divided.railway.stock.items()}
    plant = divided.railway.plant
    tailless = replace(plant, detectors={d: detector for d, detector in plant.detectors.items() if detector.sees != "tail"})
    railway = replace(divided.railway, plant=tailless, stock=bare)
    assert told_t(divided.truth, railway, divided.records, expected) is None


def test_trains_would_have_met_where_the_one_was_still_in_the_section_at_the_time_of_the_other() -> None:
    railway = railway_of(DEMONSTRATION, SEED)
    word = {
        "kind": "clash-ahead",
        "section": "lanternby-pettymarsh",
        "trains": ["g1", "p2"],
        "t": 100.0,
        "clock": "19:45:00",
    }
    leaves_t = 100.0 + 300.0 / railway.plant.clock  # p2 is booked to leave Lanternby at 19:50
    for out_t, so in ((leaves_t - 5.0, False), (leaves_t + 5.0, True)):
        rows = [[90.0, "lanternby-pettymarsh", ["g1"], []], [out_t, "lanternby-pettymarsh", [], []]]
        assert came_true({"sections": rows}, railway, word) is so


def test_every_mistake_and_fault_is_planted_alone_and_each_mistake_with_some_fault() -> None:
    rows = list(plans([SEED], [0.0]))
    names = {name for plan in rows for name in (plan.mistake, plan.fault)} - {""}
    assert names == {*MISTAKES, *FAULTS}
    assert len(rows) == 2 * (1 + 2 * len(MISTAKES) + len(FAULTS))
    assert {plan.railway for plan in rows} == {DEMONSTRATION, GROWN}


def test_everyday_noise_misses_what_it_is_told_to() -> None:
    noise = everyday(0.2)
    assert noise is not None and noise.missed_share == 0.2
    assert noise.repeated_share and noise.ghosts_per_min and noise.flickers_per_min and len(EVERYDAY) == 4
    assert everyday(0.0) is None
