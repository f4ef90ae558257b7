"""Every sentence of the contracts on reports that come late: each counts once, and where it happened."""

from __future__ import annotations

import pytest

from .conftest import Scene


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
