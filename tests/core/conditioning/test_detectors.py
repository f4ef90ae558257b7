"""Every sentence of the contracts on what a detector says, from lines to observations."""

from __future__ import annotations

from typing import Any

import pytest

Scene = Any


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


# --- state lines


def test_state_is_how_an_input_stands_now_and_never_makes_a_movement(scene: Scene) -> None:
    scene.state_all(1.0)
    scene.state(2.0, 1, "on")
    scene.state(2.0, 3, "tag=04A1")
    scene.state(2.0, 4, "on")
    scene.state(2.0, 8, "tag=04B2")
    scene.until(9.0)
    assert scene.observations
    assert not any(seen.moves for seen in scene.observations)
    assert scene.core.detectors["dock"].stated
    assert scene.told("axles") == []


def test_a_state_off_waits_for_clear_after_too(scene: Scene) -> None:
    scene.state(1.0, 1, "off")
    assert scene.word("dock") == "unknown"
    scene.until(2.0)
    assert scene.told("dock") == [(2.0, "clear")]


def test_a_state_that_tells_what_is_known_says_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(1.0, 3, "tag=04A1")
    scene.report(1.0, 6, "on")
    scene.observations.clear()
    for number, value in ((1, "on"), (3, "tag=04A1"), (6, "on")):
        scene.state(2.0, number, value)
    assert scene.observations == []


def test_a_clear_that_rests_on_a_state_line_after_a_report_on_is_no_movement(scene: Scene) -> None:
    """The off report was lost, and the answer to `ask` tells of it."""
    scene.report(1.0, 1, "on")
    scene.state(5.0, 1, "off")
    scene.until(9.0)
    seen = scene.observations[-1]
    assert (seen.state, seen.t, seen.moves) == ("clear", 6.0, False)


@pytest.mark.parametrize(("number", "on", "word"), [(1, "on", "clear"), (8, "tag=04A1003B68", "off")])
def test_an_off_that_was_reported_before_a_start_and_is_stated_behind_it_is_a_movement(
    scene: Scene, number: int, on: str, word: str
) -> None:
    scene.report(1.0, number, on)
    scene.report(2.0, number, "off")
    scene.host(2.3, started=False)
    scene.host(2.5, started=True)
    scene.state(2.6, number, "off")
    scene.until(10.0)
    last = scene.observations[-1]
    assert (last.state, last.moves, last.happened_t) == (word, True, 2.0)


def test_an_off_before_a_start_is_none_where_the_input_is_stated_to_be_on_behind_it(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.host(2.3, started=False)
    scene.host(2.5, started=True)
    scene.state(2.6, 1, "on")
    scene.state(3.0, 1, "off")
    scene.until(10.0)
    last = scene.observations[-1]
    assert (last.state, last.moves) == ("clear", False)


def test_a_state_older_than_what_its_input_has_said_since_changes_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "off", seq=1)
    scene.report(2.0, 1, "on", seq=3)
    scene.state(2.1, 1, "off", seq=2, ms=1500)
    scene.until(9.0)
    assert scene.word("dock") == "occupied"


def test_a_number_that_was_a_state_line_is_answered_with_the_present_state(scene: Scene) -> None:
    scene.report(1.0, 1, "on", seq=1)
    scene.report(2.0, 6, "on", seq=3)
    scene.state(5.0, 1, "off", seq=2, ms=5000)
    scene.until(6.0)
    seen = scene.observations[-1]
    assert (seen.detector, seen.state, seen.moves) == ("dock", "clear", False)


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
    assert scene.told("axles") == [(1.0, "passed"), (8.7, "passed")]


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


# --- muted


def test_mute_it_counts_as_unknown(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    (seen,) = scene.core.mute("dock", 2.0, 2).observations
    assert (seen.state, seen.n, seen.t, seen.moves) == ("unknown", 2, 2.0, False)
    assert scene.report(3.0, 1, "off").observations == ()
    scene.until(9.0)
    (seen,) = scene.core.unmute("dock", 10.0, 3).observations
    assert (seen.state, seen.moves) == ("clear", False)


@pytest.mark.parametrize(("number", "value"), [(3, "tag=04A1"), (4, "on"), (5, "on")])
def test_a_muted_treadle_or_reader_says_nothing(scene: Scene, number: int, value: str) -> None:
    for detector in ("mouth", "axles", "engines"):
        scene.core.mute(detector, 1.0, 1)
    assert scene.report(2.0, number, value).observations == ()


def test_an_off_under_way_settles_silently_while_muted(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.core.mute("dock", 2.5, 2)
    scene.until(9.0)
    assert scene.told("dock") == [(1.0, "occupied")]
    assert scene.core.unmute("dock", 9.0, 3).observations[0].state == "clear"


def test_mute_of_an_unknown_detector_is_a_fault_of_the_caller(scene: Scene) -> None:
    with pytest.raises(KeyError):
        scene.core.mute("nowhere", 1.0, 1)


# --- late reports


def test_board_boot_and_seq_make_each_report_count_once(scene: Scene) -> None:
    scene.report(1.0, 5, "on", seq=1)
    assert scene.report(1.5, 5, "on", seq=1, ms=1000).observations == ()


def test_a_late_report_is_given_as_evidence_at_its_boards_corrected_time(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.report(5.0, 6, "off", seq=3)
    said = scene.report(6.0, 5, "on", seq=2, ms=3000)
    (late,) = said.late
    assert (said.observations, late.n, late.t, late.happened_t) == ((), 3, 6.0, 3.0)
    (seen,) = scene.core.place(late, 6.0).observations
    assert (seen.n, seen.t, seen.happened_t, seen.state, seen.moves) == (3, 6.0, 3.0, "passed", True)


def test_a_number_that_an_alive_had_proved_lost_comes_late(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.alive(3.0, seq=2)
    assert [late.n for late in scene.report(3.1, 5, "on", seq=2, ms=2000).late] == [3]
    assert scene.report(4.0, 5, "on", seq=3).late == ()


def test_a_report_that_was_long_on_its_way_is_late_once_the_boards_clock_is_known(scene: Scene) -> None:
    assert scene.report(1.0, 5, "on", ms=0).late == ()
    for beat in range(2, 20, 2):
        scene.alive(float(beat))
    assert scene.report(19.5, 5, "on", ms=19_400).late == ()
    (late,) = scene.report(21.0, 5, "on", ms=20_000).late
    assert late.happened_t == pytest.approx(20.0, abs=0.05)
    assert scene.report(29.5, 5, "on", ms=22_000).late == (), "so long above the line a clock has rather stood still"


def test_a_state_line_is_never_late(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.report(5.0, 6, "off", seq=3)
    assert scene.state(6.0, 5, "off", seq=2).late == ()


def test_late_evidence_does_not_overwrite_a_newer_state_of_its_input(scene: Scene) -> None:
    scene.report(1.0, 6, "off", seq=1)
    scene.report(5.0, 6, "off", seq=3)
    scene.report(6.0, 6, "on", seq=2, ms=3000)
    assert scene.place(6.0).observations == ()
    assert scene.word("points") == "off"


def test_in_its_place_it_is_taken_as_any_report(scene: Scene) -> None:
    scene.report(1.0, 1, "on", seq=1)
    scene.report(5.0, 6, "on", seq=3)
    scene.report(6.0, 1, "off", seq=2, ms=3000)
    scene.place(6.0)
    scene.until(7.0)
    seen = scene.observations[-1]
    assert (seen.state, seen.t, seen.happened_t) == ("clear", 7.0, 3.0)


def test_late_axles_and_tags_join_the_passing_that_they_belong_to(scene: Scene) -> None:
    scene.report(1.0, 4, "on", seq=1)
    scene.report(10.0, 4, "on", seq=4)
    scene.report(11.0, 4, "on", seq=2, ms=2500)
    assert scene.place(11.0).observations == ()
    scene.report(11.0, 4, "on", seq=3, ms=6000)
    assert len(scene.place(11.0).observations) == 1


def test_an_off_of_a_boot_that_is_over_proves_nothing(scene: Scene) -> None:
    scene.report(1.0, 1, "on", seq=1)
    scene.hello(9.0, boot=18, ms=500)
    scene.report(20.0, 1, "on", ms=11_500)
    assert scene.report(21.0, 1, "off", boot=17, seq=2, ms=2000).observations == ()


def test_a_line_that_follows_is_the_newest_whatever_milliseconds_a_damaged_one_had(scene: Scene) -> None:
    scene.report(1.0, 6, "on", ms=900_000)
    scene.report(2.0, 6, "off", ms=2000)
    assert scene.word("points") == "off"


def test_nobody_is_woken_for_nothing(scene: Scene) -> None:
    """What waits besides is the board's silence, 1,000,000 s after its last line."""
    scene.report(1.0, 1, "off")
    assert scene.core.due() == 2.0
    scene.closed(1.5)
    assert scene.core.due() == 1_000_001.0
    scene.report(2.0, 1, "off")
    scene.until(3.0)
    scene.report(4.0, 1, "off")
    assert scene.core.due() == 1_000_004.0
    scene.report(5.0, 1, "on")
    scene.report(5.5, 1, "off")
    scene.report(5.6, 1, "on")
    assert scene.core.due() == 1_000_005.6


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
