"""Where an irregularity is: the stretches and stations at which a page marks it.

Rule: read from what its claim names, and for trains, wagons, detectors and boards from where those are now.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.plant import Detector
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.ledger import Claim
    from bridge.core.state import State


def place_of(detector: Detector) -> str:
    """What a detector watches, in one id (of a supply: all that it feeds)."""
    return detector.covers or detector.at or detector.guards or detector.station or ", ".join(detector.feeds)


def places(state: State, claim: Claim) -> tuple[str, ...]:
    """Roads, throats, sections and stations, each once; none where it is at no place."""
    return tuple(dict.fromkeys(place for place in _places(state, claim) if place and place != OFF))


def _places(state: State, claim: Claim) -> Iterator[str]:
    keys, railway, where = claim.keys, state.railway, state.where
    named = [keys[k] for k in ("section", "road", "throat") if keys.get(k)]
    if named or railway is None or where is None:
        yield from named
        return
    plant = railway.plant
    if keys.get("vehicle") in railway.stock:
        yield where.place(keys["vehicle"])
        return
    for train in (
        t for name in (keys.get("train"), *(keys.get("trains") or ())) if (t := state.roster.trains.get(name or ""))
    ):
        yield where.place(train.engine)
    watching = [d for d in plant.detectors.values() if d.id == keys.get("detector") or d.board == keys.get("board")]
    for detector in watching:
        stretch = place_of(detector).partition("@")[0].partition(",")[0]
        yield stretch if keys.get("detector") else plant.station_of(stretch) or stretch
