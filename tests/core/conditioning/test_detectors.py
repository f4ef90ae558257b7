"""Every sentence of the contracts on what a detector of each kind says, from lines to observations."""

from __future__ import annotations

import pytest

from .conftest import Scene

# --- track: occupied at once, clear after clear_after


def test_occupied_counts_at_once(scene: Scene) -> None:
    (seen,) = scene.report(1.0, 1, "on").observations
    assert (seen.n, seen.t, seen.happened_t, seen.state, seen.moves) == (1, 1.0, 1.0, "occupied", True)
    assert (seen.kind, seen.tag) == ("track", None)


def test_clear_after_is_ms_clear_before_it_counts_as_clear(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    assert scene.report(2.0, 1, "off").observations == ()
    assert scene.word("dock") == "occupied"
    assert scene.core.due() == 3.0
    scene.until(3.0)
    seen = scene.observations[-1]
    assert (seen.n, seen.t, seen.happened_t, seen.state, seen.moves) == (2, 3.0, 2.0, "clear", True)
    now = scene.core.detectors["dock"]
    assert (now.state, now.since_t, now.evidence, now.raw) == ("clear", 3.0, 2, "off")


def test_flicker_shorter_than_clear_after_says_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    for t in (2.0, 2.5, 3.4, 4.3):
        scene.report(t, 1, "off")
        assert scene.report(t + 0.4, 1, "on").observations == ()
    scene.report(5.0, 1, "off")
    scene.until(100.0)
    assert scene.told("dock") == [(1.0, "occupied"), (6.0, "clear")]


def test_a_second_off_does_not_begin_the_wait_again(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.state(2.5, 1, "off")
    scene.until(9.0)
    assert scene.told("dock")[-1] == (3.0, "clear")


def test_invert_where_the_input_is_off_when_the_track_is_occupied(scene: Scene) -> None:
    scene.report(1.0, 2, "off")
    assert scene.word("loop") == "occupied"
    scene.report(2.0, 2, "on")
    scene.until(3.0)
    assert scene.told("loop") == [(1.0, "occupied"), (3.0, "clear")]
    assert scene.core.detectors["loop"].raw == "off"


def test_clear_waits_by_the_arrival_at_the_host_for_it_runs_by_real_time(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(5.0, 1, "off", ms=2000)
    scene.until(5.999999)
    assert scene.word("dock") == "occupied"
    scene.until(6.0)
    assert (scene.word("dock"), scene.observations[-1].happened_t) == ("clear", 2.0)


# --- treadles


def test_a_treadle_says_passed_when_it_goes_on_and_nothing_when_off(scene: Scene) -> None:
    (seen,) = scene.report(1.0, 5, "on").observations
    assert (seen.state, seen.kind, seen.moves) == ("passed", "treadle", True)
    assert scene.report(1.1, 5, "off").observations == ()
    assert scene.report(1.2, 5, "on").observations[0].state == "passed"


def test_a_treadle_that_sees_any_passings_closer_than_2_s_are_one(scene: Scene) -> None:
    for t in (1.0, 2.9, 4.8, 6.7):  # each within 2 s of the last
        scene.report(t, 4, "on")
        scene.report(t + 0.1, 4, "off")
    scene.report(8.7, 4, "on")
    assert [seen.t for seen in scene.observations if seen.moves] == [1.0, 8.7]


def test_with_the_third_axle_on_end_a_passing_is_certain_and_that_is_said_once(scene: Scene) -> None:
    for t in (1.0, 1.2, 1.4, 1.6, 1.8, 9.0, 9.2, 20.0):
        scene.report(t, 4, "on")
        scene.report(t + 0.05, 4, "off")
    assert [(seen.t, seen.state, seen.moves) for seen in scene.observations] == [
        (1.0, "passed", True),
        (1.4, "passed", False),
        (9.0, "passed", True),
        (20.0, "passed", True),
    ]


def test_swallowed_axles_stay_visible_as_signs(scene: Scene) -> None:
    scene.report(1.0, 4, "on")
    scene.report(2.5, 4, "on")
    now = scene.core.detectors["axles"]
    assert (now.last_t, now.last_n, now.state) == (2.5, 2, "heard")


def test_axles_are_judged_by_board_time_for_it_serves_speed(scene: Scene) -> None:
    """Both lines arrive at once after a hold-up of the net; they happened 5 s apart."""
    scene.report(10.0, 4, "on")
    scene.report(20.0, 4, "on", ms=15_000)
    scene.report(20.0, 4, "on", ms=20_000)
    assert [seen.happened_t for seen in scene.observations] == [10.0, 15.0, 20.0]


# --- readers


def test_a_reader_says_which_tag_passed(scene: Scene) -> None:
    (seen,) = scene.report(1.0, 3, "tag=04A1003B68").observations
    assert (seen.tag, seen.state, seen.kind, seen.moves) == ("04A1003B68", None, "reader", True)
    assert scene.core.detectors["mouth"].last_tag == "04A1003B68"


def test_a_tag_that_stays_is_reported_once_and_again_only_after_300_ms_of_absence(scene: Scene) -> None:
    for t in (1.0, 1.05, 1.3, 1.55, 1.7):  # a reader that repeats a standing tag
        scene.report(t, 3, "tag=04A1")
    scene.report(1.8, 3, "tag=04B2")
    scene.report(2.01, 3, "tag=04A1")
    assert scene.told("mouth") == [(1.0, "04A1"), (1.8, "04B2"), (2.01, "04A1")]


def test_tags_are_upper_case_also_from_an_adapter(scene: Scene) -> None:
    scene.read(1.0, 3, "tag=04a1")
    assert scene.told("mouth") == [(1.0, "04A1")]


def test_the_state_of_a_reader_is_off_or_the_tag_that_lies_there(scene: Scene) -> None:
    assert scene.state(1.0, 3, "off").observations == ()
    assert scene.word("mouth") == "heard"
    (seen,) = scene.state(2.0, 3, "tag=04A1").observations
    assert (seen.tag, seen.moves) == ("04A1", False)


# --- token-rests


def test_a_token_on_its_rest_counts_at_once_and_lifted_after_clear_after(scene: Scene) -> None:
    (seen,) = scene.report(1.0, 8, "tag=04A1").observations
    assert (seen.state, seen.tag, seen.moves) == ("on", "04A1", True)
    scene.report(2.0, 8, "off")
    scene.until(2.4)
    assert scene.word("rest") == "on"
    scene.until(2.5)
    seen = scene.observations[-1]
    assert (seen.t, seen.state, seen.tag, seen.moves, seen.happened_t) == (2.5, "off", None, True, 2.0)
    assert scene.core.detectors["rest"].last_tag == "04A1"


def test_a_token_that_is_touched_is_not_lifted(scene: Scene) -> None:
    scene.state(1.0, 8, "tag=04A1")
    scene.report(2.0, 8, "off")
    scene.report(2.4, 8, "tag=04A1")
    scene.until(9.0)
    assert scene.told("rest") == [(1.0, "on")]


def test_another_token_laid_down_is_news(scene: Scene) -> None:
    scene.report(1.0, 8, "tag=04A1")
    (seen,) = scene.report(2.0, 8, "tag=04B2").observations
    assert (seen.state, seen.tag) == ("on", "04B2")


# --- points, proof


def test_points_say_on_and_off_at_once(scene: Scene) -> None:
    scene.state(1.0, 6, "off")
    scene.report(2.0, 6, "on")
    assert [(o.t, o.state, o.moves) for o in scene.observations] == [(1.0, "off", False), (2.0, "on", True)]


def test_proof_on_is_proved(scene: Scene) -> None:
    scene.report(1.0, 7, "on")
    scene.report(2.0, 7, "off")
    assert scene.told("bridge") == [(1.0, "proved"), (2.0, "not-proved")]


# --- unknown: the third state of every detector


def test_every_detector_is_unknown_until_its_state_or_a_report_has_come(scene: Scene) -> None:
    assert {now.state for now in scene.core.detectors.values()} == {"unknown"}
    scene.state(1.0, 1, "on")
    scene.report(1.0, 6, "on")
    known = {id for id, now in scene.core.detectors.items() if now.state != "unknown"}
    assert known == {"dock", "points"}


def test_nothing_is_said_of_unknown_at_the_start(scene: Scene) -> None:
    scene.hello(1.0)
    scene.alive(2.0)
    assert scene.observations == []


def test_unknown_of_a_treadle_or_reader_is_not_observed_for_nothing_of_them_lasts(scene: Scene) -> None:
    scene.report(1.0, 5, "on")
    scene.report(1.0, 3, "tag=04A1")
    scene.observations.clear()
    scene.closed(2.0)
    assert (scene.word("engines"), scene.word("mouth"), scene.observations) == ("unknown", "unknown", [])


# --- what does not fit


def test_a_line_of_an_input_that_the_folder_does_not_name_is_told_once(scene: Scene) -> None:
    scene.report(1.0, 77, "on")
    scene.report(2.0, 77, "off")
    assert [(c.kind, c.input, c.board) for c in scene.news("unknown_input")] == [("unknown_input", 77, "alder")]
    assert scene.observations == []


@pytest.mark.parametrize(("number", "value"), [(1, "tag=04A1"), (4, "tag=04A1"), (7, "tag=04A1"), (3, "on")])
def test_a_value_that_such_a_detector_cannot_have_is_told_and_changes_nothing(scene: Scene, number: int, value: str) -> None:
    said = scene.report(1.0, number, value)
    assert said.observations == ()
    assert [(c.kind, c.input, c.why) for c in said.changes if c.kind != "heard"] == [("unfit_value", number, value)]
    scene.report(2.0, number, value)
    assert len(scene.news("unfit_value")) == 1


def test_what_operators_say_passes_by(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    assert scene.said(2.0).observations == ()
