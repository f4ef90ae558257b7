"""What treadles and readers report of a passing vehicle, through board, debounce and all."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.core.plan import Railway
from bridge.virtual.motion import scale_speed_mm_s
from bridge.wire.lines import BoardLine, Report

from .conftest import READER, STANDING, STOCK, evening_of

TREADLES = """
[[detector]]
id = "out"
kind = "treadle"
at = "ash-elm@ash"
sees = "engine"
board = "one"
input = 1
[[detector]]
id = "in"
kind = "treadle"
at = "ash-elm@elm"
sees = "engine"
board = "one"
input = 2
"""
Line = Callable[..., Railway]


def reports(railway: Railway, script: str, **more: object) -> list[Report]:
    """What the board reports in the course of a script."""
    lines: list[BoardLine] = []
    evening = evening_of(railway, script, **more)
    evening.on_line = lambda board, line: lines.append(line)
    evening.run()
    return [line for line in lines if isinstance(line, Report)]


def test_two_treadles_a_metre_apart_at_100_km_h(line: Line) -> None:
    # Source: 1:76.2, 100 km/h = 364.54 mm/s, so one metre takes 2.743 s (worked from 304.8/4 mm a foot).
    railway = line(TREADLES, STOCK, STANDING, length=1000, scale=76.2)
    speed = round(scale_speed_mm_s(100, 76.2), 2)
    assert speed == 364.54
    script = "begin 19:00\ncrew e1\n runs to elm.road at 365 mm/s\n"
    ons = {r.input: r.ms for r in reports(railway, script) if r.value == "on"}
    # the run is long enough to have full speed at both; 365 mm/s is 100.1 km/h there
    seconds = (ons[2] - ons[1]) / 1000
    assert seconds == pytest.approx(2.743 * speed / 365, abs=0.012)


def test_a_treadle_stays_closed_for_the_length_of_the_magnet(line: Line) -> None:
    railway = line(TREADLES, STOCK, STANDING)
    out = [r for r in reports(railway, "crew e1\n runs to elm.road at 200 mm/s\n") if r.input == 1]
    assert [r.value for r in out] == ["on", "off"]  # the engine only: wagon and brake van carry no engine's magnet
    assert out[1].ms - out[0].ms == pytest.approx(8 / 200 * 1000, abs=2)  # 8 mm; source: reed zone of an 8 mm magnet


# Axles (common practice, no source): three of the engine, two each of wagon and brake van.
@pytest.mark.parametrize(("sees", "passings"), [("engine", 1), ("tail", 1), ("any", 7)])
def test_which_vehicles_a_treadle_sees(line: Line, sees: str, passings: int) -> None:
    railway = line(TREADLES.replace('"engine"', f'"{sees}"'), STOCK, STANDING)
    found = [r for r in reports(railway, "crew e1\n runs to elm.road\n") if r.input == 2 and r.value == "on"]
    assert len(found) == passings


def test_the_side_that_fires_first_proves_the_direction(line: Line) -> None:
    sides = TREADLES.replace('"ash-elm@elm"', '"ash-elm@ash"\nside = "up"').replace(
        'at = "ash-elm@ash"\nsees', 'at = "ash-elm@ash"\nside = "down"\nsees', 1
    )
    railway = line(sides, STOCK, STANDING)  # input 1 on the down side, input 2 on the up side
    out = reports(railway, "crew e1\n runs to elm.road\n waits 2 s\n runs to ash.road\n")
    assert [r.input for r in out if r.value == "on"] == [2, 1, 1, 2]


def test_tags_are_read_in_the_order_in_which_they_pass(line: Line) -> None:
    railway = line(READER, STOCK, STANDING)
    out = reports(railway, "crew e1\n runs to elm.road\n waits 2 s\n runs to ash.road\n")
    tags = [r.value[-1] for r in out]
    assert tags[:4] in (list("1243"), list("1234"))
    assert tags[4:] == tags[:4][::-1]  # and back, the last first


def test_a_standing_tag_is_reported_once_and_again_after_it_was_away(line: Line) -> None:
    railway = line(READER, STOCK, STANDING)
    stands = "crew e1\n runs towards elm.road until w1 is at ash-elm@ash\n waits 20 s\n"
    once = [r for r in reports(railway, stands) if r.value == "tag=04AA000002"]
    again = [r for r in reports(railway, stands + " runs to elm.road\n runs to ash.road\n") if r.value == "tag=04AA000002"]
    assert len(once) == 1
    assert len(again) == 2


# Source: at 50 ms a look, a tag is looked at as often as 50 ms fit into its time in a 30 mm field: 0.62 m/s (0 gauge,
# 100 km/h) leaves 49 ms, none or one; 0.19 m/s (H0, 60 km/h) leaves 157 ms, three.
@pytest.mark.parametrize(("speed", "always"), [(190, True), (320, True), (620, False)])
def test_a_reader_that_looks_every_50_ms_misses_what_is_too_fast(line: Line, speed: int, always: bool) -> None:
    railway = line(READER, STOCK, ["e1,ash.road,1", "w1,ash.siding,1", "b1,ash.siding,2"], length=6000)
    passes = f" runs to elm.road at {speed} mm/s\n runs to ash.road at {speed} mm/s\n"
    script = "crew e1\n" + passes * 60
    seen = len(reports(railway, script))
    assert (seen == 120) == always
    assert seen > 100


def test_noise_by_its_share(line: Line) -> None:
    from bridge.virtual.noise import Noise

    railway = line(READER, STOCK, ["e1,ash.road,1", "w1,ash.siding,1", "b1,ash.siding,2"])
    script = "crew e1\n" + " runs to elm.road\n runs to ash.road\n" * 200
    seen = len(reports(railway, script, noise=Noise(missed_share=0.2)))
    assert 0.74 * 400 < seen < 0.86 * 400
    seen = len(reports(railway, script, noise=Noise(repeated_share=0.2)))
    assert 1.14 * 400 < seen < 1.26 * 400
