"""What is on the line and should not be: vehicles that a train has left in a section, and what has run away.

Sources: a train is out of a section only when complete (GERT8000-TS4 clause 3.6.4; check values 6.16), and where more went
in than came out it is occupied (6.19). Rule: each stands until the section or road is clear, or somebody has looked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import weakened
from bridge.core.ledger import Claim
from bridge.core.line.divided import is_open
from bridge.core.line.unexplained import vehicles
from bridge.core.plant import DetectorKind
from bridge.core.readings import called

if TYPE_CHECKING:
    from bridge.core.facts import Short
    from bridge.core.line.presence import Presence
    from bridge.core.state import State


def divided(state: State, section: str) -> list[Claim]:
    """Trains that have come out of one section without all of their vehicles."""
    return [_divided(state, p) for p in state.presences.get(section, ()) if is_open(p)]


def _divided(state: State, presence: Presence) -> Claim:
    found, railway = presence.short, state.railway
    assert found is not None and railway is not None
    section, train = presence.section, presence.train
    station = railway.plant.stations[(presence.out_at or presence.start).partition(".")[0]].name
    names = ", ".join(called(state, v) for v in found.vehicles)
    left = f" {names} may stand in {section}." if names else f" Something of it may stand in {section}."
    return Claim(
        "train-divided",
        found.cause,
        {"section": section, "train": train},
        f"{train} has come out of {section} at {station} short: {_shown_by(state, found)}.{left}"
        + (weakened(state, found.detectors) or (" Evidence weak." if found.boards else "")),
        f"Let nothing into {section}. Stop {train}, count its vehicles, and look along {section}; if all is out, tell: "
        f"return {section} {train}.",
        because=(*found.vehicles, *found.detectors, *found.boards),
        evidence=found.evidence,
        happened=found.happened,
    )


def _shown_by(state: State, found: Short) -> str:
    """What shows it, in words."""
    railway = state.railway
    assert railway is not None
    names, kind = " and ".join(found.detectors), railway.plant.detectors[found.detectors[0]].kind
    if kind is DetectorKind.TRACK:
        return f"{names} still says occupied"
    return f"{names} has not told of its last vehicle" if kind is DetectorKind.TREADLE else f"{names} has not read its rear"


def astray(state: State, stretch: str) -> list[Claim]:
    """What occupies a section or road though no train can be the cause."""
    found, railway = state.astray.get(stretch), state.railway
    if found is None or railway is None:
        return []
    kind = "section" if stretch in railway.plant.sections else "road"
    there = vehicles(state, found)
    names = ", ".join(called(state, v) for v in there)
    what = f"{names} has come there of itself" if len(there) == 1 else f"{names} have come there of themselves"
    numbers = {found.n, *(n for v in there if state.where is not None for n in state.where.belief(v).evidence)}
    return [
        Claim(
            "unexplained-occupation",
            found.cause,
            {"section": None, "road": None, kind: stretch},
            f"{found.detector} says that {stretch} is occupied, and no train can be the cause"
            + (f": {what}." if there else ".")
            + weakened(state, (found.detector,)),
            f"Stop all trains that may come to {stretch}. Look there for what has rolled away or was put there; if there is "
            f"nothing, tell: mute {found.detector}.",
            because=(*there, found.detector),
            evidence=tuple(sorted(n for n in numbers if n is not None)),
            happened=round(found.t, 6),
        )
    ]
