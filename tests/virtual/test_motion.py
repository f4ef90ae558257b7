"""Speeds at scale, and runs from stand to stand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.virtual.motion import Profile, scale_speed_mm_s

# Source: the table of scales worked from the ratios of NEM 010 and NMRA S-1.2 (304.8 mm a foot, 60 mph = 88 ft/s):
# ratio, 60 mph in mm/s, 100 km/h in mm/s.
SCALES = [
    (220, 121.92, 126.26),
    (160, 167.64, 173.61),
    (148, 181.23, 187.69),
    (120, 223.52, 231.48),
    (101.6, 264.00, 273.40),
    (87, 308.30, 319.28),
    (76.2, 352.00, 364.54),
    (64, 419.10, 434.03),
    (45, 596.05, 617.28),
    (48, 558.80, 578.70),
    (32, 838.20, 868.06),
]


@pytest.mark.parametrize(("ratio", "mph60", "kmh100"), SCALES)
def test_scale_speeds(ratio: float, mph60: float, kmh100: float) -> None:
    assert scale_speed_mm_s(60 * 1.609344, ratio) == pytest.approx(mph60, abs=0.01)
    assert scale_speed_mm_s(100, ratio) == pytest.approx(kmh100, abs=0.01)


lengths = st.floats(0.1, 20_000)
speeds = st.floats(5, 900)
gains = st.floats(20, 1000)


@given(lengths, speeds, gains, st.floats(0, 1))
def test_distance_and_time_are_each_others_inverse(distance: float, speed: float, gain: float, share: float) -> None:
    profile = Profile(distance, speed, gain)
    covered = distance * share
    assert profile.covered_mm(profile.at_s(covered)) == pytest.approx(covered, abs=1e-3)
    assert 0 <= profile.at_s(covered) <= profile.duration_s + 1e-9


@given(lengths, speeds, gains, st.lists(st.floats(0, 1), min_size=2, max_size=20))
def test_never_backwards_and_never_too_fast(distance: float, speed: float, gain: float, shares: list[float]) -> None:
    profile = Profile(distance, speed, gain)
    times = sorted(share * profile.duration_s for share in shares)
    covered = [profile.covered_mm(t) for t in times]
    for (t0, s0), (t1, s1) in zip(zip(times, covered, strict=True), zip(times[1:], covered[1:], strict=True), strict=False):
        assert -1e-6 <= s1 - s0 <= speed * (t1 - t0) + 1e-6


@given(lengths, speeds, gains)
def test_stands_at_both_ends(distance: float, speed: float, gain: float) -> None:
    profile = Profile(distance, speed, gain)
    moment = profile.duration_s * 1e-3
    assert profile.covered_mm(0) == 0
    assert profile.covered_mm(profile.duration_s) == pytest.approx(distance)
    assert profile.covered_mm(moment) <= gain * moment * moment / 2 + 1e-9
    assert distance - profile.covered_mm(profile.duration_s - moment) <= gain * moment * moment / 2 + 1e-6
