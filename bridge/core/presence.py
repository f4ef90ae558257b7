"""One train's stay in a section, and what the rooms that follow trains share.

Rule: a presence begins when a train's first vehicle passes the section end, and ends when its last is proved out, or when
the train has come back from a shunt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bridge.core.state import State


@dataclass(slots=True)
class Presence:
    """One train's stay in a section. `start` and `out_at` are throats; `cleared` is None, "complete" or "incomplete"."""

    train: str
    engine: str
    section: str
    start: str
    out_t: float
    n: int | None
    first: str
    last_sign_t: float
    cause: str
    departed: bool = False
    out_at: str | None = None
    out_sign_t: float | None = None
    out_t_far: float | None = None
    told_clear: bool = False
    cleared: str | None = None
    cleared_n: int = 0


def stretch_state(state: State, stretch: str) -> str:
    """occupied, clear, unknown or unwatched, by the track detectors of a stretch."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    words = [conditioning.detectors[d.id].state for d in railway.plant.covering.get(stretch, ())]
    for word in ("occupied", "unknown", "clear"):
        if word in words:
            return word
    return "unwatched"


def late_s(state: State, t: float, booked_s: float | None) -> int | None:
    """Session seconds after the booked time (negative: before), None where nothing is booked."""
    now = state.clock.session_s(t)
    return None if booked_s is None or now is None else round(now - booked_s)


def limit(state: State, name: str, otherwise: float) -> float:
    """One of the railway's limits."""
    railway = state.railway
    assert railway is not None
    return railway.plant.limits.get(name, otherwise)
