"""How a rake gathers speed and comes to a stand: distance against time for one run, and back.

Rule: a run begins and ends at a stand, and everything about it is known when it begins, so that the instant at which any
point of the rake passes any point of the track is worked out and never stepped towards.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt


def scale_speed_mm_s(km_h: float, scale: float) -> float:
    """A prototype speed in km/h as millimetres a second on a layout of scale 1:`scale`."""
    return km_h / 3.6 / scale * 1000.0


@dataclass(frozen=True, slots=True)
class Profile:
    """One run over `distance_mm` at up to `speed_mm_s`, gathering and losing speed at `gain_mm_s2`."""

    distance_mm: float
    speed_mm_s: float
    gain_mm_s2: float

    @property
    def top_mm_s(self) -> float:
        """The highest speed reached: less than `speed_mm_s` where the run is too short for it."""
        return min(self.speed_mm_s, sqrt(self.distance_mm * self.gain_mm_s2))

    @property
    def duration_s(self) -> float:
        """From stand to stand."""
        top = self.top_mm_s
        return 0.0 if top == 0.0 else self.distance_mm / top + top / self.gain_mm_s2

    def at_s(self, covered_mm: float) -> float:
        """Seconds after the start at which so many millimetres are covered."""
        covered = min(max(covered_mm, 0.0), self.distance_mm)
        top, gain = self.top_mm_s, self.gain_mm_s2
        if top == 0.0:
            return 0.0
        ramp = top * top / (2.0 * gain)
        if covered <= ramp:
            return sqrt(2.0 * covered / gain)
        if covered <= self.distance_mm - ramp:
            return top / gain + (covered - ramp) / top
        return self.duration_s - sqrt(2.0 * (self.distance_mm - covered) / gain)

    def covered_mm(self, since_s: float) -> float:
        """Millimetres covered so many seconds after the start."""
        since = min(max(since_s, 0.0), self.duration_s)
        top, gain = self.top_mm_s, self.gain_mm_s2
        if top == 0.0:
            return 0.0
        ramp_s = top / gain
        if since <= ramp_s:
            return gain * since * since / 2.0
        if since <= self.duration_s - ramp_s:
            return top * ramp_s / 2.0 + top * (since - ramp_s)
        left = self.duration_s - since
        return self.distance_mm - gain * left * left / 2.0
