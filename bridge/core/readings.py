"""What several rooms ask of the state in one word: a stretch, a lateness, a limit.

Rule: nothing here remembers or changes anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import doubted
from bridge.core.plant import Detector

if TYPE_CHECKING:
    from bridge.core.line.presence import Presence
    from bridge.core.state import State


def called(state: State, vehicle: str) -> str:
    """A vehicle as people know it: its painted number, with its id in brackets where that is another."""
    stock = state.railway.stock if state.railway is not None else {}
    painted = stock[vehicle].painted if vehicle in stock else ""
    return vehicle if painted in ("", vehicle) else f"{painted} ({vehicle})"


def stretch_state(state: State, stretch: str) -> str:
    """occupied, clear, unknown or unwatched, by the track detectors of a stretch."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    words = [conditioning.detectors[d.id].state for d in railway.plant.covering.get(stretch, ())]
    for word in ("occupied", "unknown", "clear"):
        if word in words:
            return word
    return "unwatched"


def far_throat(state: State, presence: Presence) -> str:
    """The throat at which a train that does not turn back comes out of its section."""
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[presence.section]
    return section.to_throat if presence.start == section.from_throat else section.from_throat


def late_s(state: State, t: float, booked_s: float | None) -> int | None:
    """Session seconds after the booked time (negative: before), None where nothing is booked."""
    now = state.clock.session_s(t)
    return None if booked_s is None or now is None else round(now - booked_s)


def in_the_dark(state: State, detectors: Iterable[Detector]) -> tuple[str, ...]:
    """What of some detectors could explain that something was not seen: boards whose reports are lost, or that are silent,
    and detectors that are themselves under doubt."""
    those = list(detectors)
    boards = {d.board for d in those if d.board in state.lost_boards or state.gaps.get(d.board)}
    return (*sorted(boards), *doubted(state, (d.id for d in those)))


def limit(state: State, name: str, otherwise: float) -> float:
    """One of the railway's limits."""
    railway = state.railway
    assert railway is not None
    return railway.plant.limits.get(name, otherwise)
