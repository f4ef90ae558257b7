"""Track power without a power detector: what a short circuit makes of current sensors, in the words of railway-folder.md."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .conftest import Scene
from .powered import POWER, TRACKS, trip, words


@pytest.fixture
def yard(make: Callable[..., Scene]) -> Scene:
    """Eight track detectors under no power detector, six of them occupied, beside dock and loop which say nothing yet."""
    scene: Scene = make(**TRACKS)
    for n in range(6):
        scene.report(1.0, 20 + n, "on")
    scene.report(1.0, 26, "off")
    scene.until(9.0)
    scene.observations.clear()
    return scene


def test_half_or_more_of_a_boards_occupied_tracks_at_least_three_clearing_within_200_ms(yard: Scene) -> None:
    trip(yard)
    assert words(yard, 0, 1, 2) == {"unknown"}
    assert words(yard, 3, 4, 5) == {"occupied"}
    assert {o.state for o in yard.observations} == {"unknown"}
    yard.until(60.0)
    assert words(yard, 0, 1, 2) == {"unknown"}


def test_fewer_than_half_are_no_trip(make: Callable[..., Scene]) -> None:
    scene = make(**TRACKS)
    for n in range(7):
        scene.report(1.0, 20 + n, "on")
    trip(scene)
    scene.until(20.0)
    assert words(scene, 0, 1, 2) == {"clear"}


def test_fewer_than_three_are_no_trip(make: Callable[..., Scene]) -> None:
    scene = make(**TRACKS)
    scene.report(1.0, 20, "on")
    scene.report(1.0, 21, "on")
    trip(scene, 10.0, 0, 1)
    scene.until(20.0)
    assert words(scene, 0, 1) == {"clear"}


def test_clears_further_apart_than_200_ms_are_no_trip(yard: Scene) -> None:
    trip(yard, step=0.15)
    yard.until(20.0)
    assert words(yard, 0, 1, 2) == {"clear"}


def test_they_are_measured_by_the_boards_own_milliseconds(yard: Scene) -> None:
    for n, ms in ((0, 10_000), (1, 10_010), (2, 10_020)):
        yard.report(10.0 + 0.4 * n, 20 + n, "off", ms=ms)
    assert words(yard, 0, 1, 2) == {"unknown"}


def test_a_track_that_came_back_meanwhile_does_not_count(yard: Scene) -> None:
    yard.report(10.0, 20, "off")
    yard.report(10.05, 20, "on")
    trip(yard, 10.1, 1, 2)
    yard.until(20.0)
    assert words(yard, 1, 2) == {"clear"}


def test_more_that_clear_at_once_belong_to_the_trip(yard: Scene) -> None:
    trip(yard, 10.0, 0, 1, 2, 3, 4)
    yard.until(20.0)
    assert words(yard, 0, 1, 2, 3, 4) == {"unknown"}


def test_unknown_until_2_s_after_the_first_of_them_is_on_again_then_as_last_reported(yard: Scene) -> None:
    trip(yard)
    yard.report(15.0, 21, "on")
    yard.report(15.5, 20, "on")
    yard.until(16.9)
    assert words(yard, 0, 1, 2) == {"unknown"}
    yard.until(17.0)
    assert [yard.word(f"t{n}") for n in (0, 1, 2)] == ["occupied", "occupied", "clear"]
    assert not any(o.moves for o in yard.observations)
    assert yard.core._power.trips == {}


def test_with_none_on_again_in_60_s_until_somebody_has_looked(yard: Scene) -> None:
    trip(yard)
    yard.until(500.0)
    assert words(yard, 0, 1, 2) == {"unknown"}
    (seen,) = yard.core.looked("t0", 500.0).observations
    assert (seen.detector, seen.state, seen.t, seen.moves) == ("t0", "clear", 500.0, False)
    assert words(yard, 1, 2) == {"unknown"}


def test_trip_for_of_the_folder_holds_and_a_track_on_again_after_it_is_occupied(make: Callable[..., Scene]) -> None:
    scene = make(limits={"board_lost_after": 1e6, "trip_for": 20.0}, **TRACKS)
    for n in range(4):
        scene.report(1.0, 20 + n, "on")
    trip(scene)
    scene.report(31.0, 20, "on")
    assert (scene.word("t0"), words(scene, 1, 2)) == ("occupied", {"unknown"})
    scene.until(100.0)
    assert words(scene, 1, 2) == {"unknown"}


def test_muting_and_unmuting_is_a_look(yard: Scene) -> None:
    trip(yard)
    yard.until(100.0)
    yard.core.mute("t1", 100.0, 20)
    yard.core.unmute("t1", 101.0, 21)
    assert (yard.word("t1"), words(yard, 0, 2)) == ("clear", {"unknown"})


def test_a_look_at_a_track_that_is_in_no_trip_says_nothing(yard: Scene) -> None:
    assert yard.core.looked("t5", 10.0).observations == ()


def test_a_track_with_a_short_clear_after_waits_200_ms_where_a_trip_is_possible(make: Callable[..., Scene]) -> None:
    quick = {key: {**row, "clear_after_ms": 0.0} for key, row in TRACKS.items()}
    scene = make(**quick)
    for n in range(4):
        scene.report(1.0, 20 + n, "on")
    trip(scene, 10.0, 0, 1, 2, step=0.09)
    scene.until(20.0)
    assert [scene.told(f"t{n}")[-1] for n in (0, 1, 2)] == [(10.18, "unknown")] * 3
    scene.report(30.0, 23, "off")
    scene.until(40.0)
    assert scene.told("t3")[-1] == (30.2, "clear")


def test_tracks_under_a_power_detector_make_no_trip(make: Callable[..., Scene]) -> None:
    scene = make(**TRACKS, power={**POWER, "feeds": ("alder.yard",)})
    for n in range(4):
        scene.report(1.0, 20 + n, "on")
    trip(scene)
    scene.until(20.0)
    assert words(scene, 0, 1, 2) == {"clear"}


def test_reports_sent_again_tell_of_a_trip_too(yard: Scene) -> None:
    seq = yard.seqs[("alder", 17)]
    yard.report(10.5, 6, "on", seq=seq + 4)
    for n in (0, 1, 2):
        yard.report(11.0, 20 + n, "off", seq=seq + 1 + n, ms=10_000 + n)
        yard.place(11.0)
    assert words(yard, 0, 1, 2) == {"unknown"}


def test_state_lines_make_no_trip(yard: Scene) -> None:
    for n in (0, 1, 2):
        yard.state(10.0, 20 + n, "off")
    yard.until(20.0)
    assert words(yard, 0, 1, 2) == {"clear"}


def test_two_boards_do_not_trip_together(make: Callable[..., Scene]) -> None:
    tracks = {key: {**row, "board": "birch" if key == "t2" else "alder"} for key, row in TRACKS.items()}
    scene = make(**tracks)
    for n in range(3):
        scene.report(1.0, 20 + n, "on", board="birch" if n == 2 else "alder")
    for n in range(3):
        scene.report(5.0, 20 + n, "off", board="birch" if n == 2 else "alder")
    scene.until(20.0)
    assert words(scene, 0, 1, 2) == {"clear"}


def test_a_trip_outlasts_a_start_of_the_service(yard: Scene) -> None:
    trip(yard)
    yard.host(11.0, started=False)
    yard.host(100.0, started=True)
    for n in range(8):
        yard.state(100.5, 20 + n, "off")
    yard.until(150.0)
    assert words(yard, 0, 1, 2) == {"unknown"}
    assert words(yard, 3, 4, 5) == {"clear"}
    yard.report(159.0, 20, "on")
    yard.until(161.0)
    assert [yard.word(f"t{n}") for n in (0, 1, 2)] == ["occupied", "clear", "clear"]
