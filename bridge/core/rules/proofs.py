"""Trains in, or on their way into, what is not proved: an open bridge, gates not across.

Rule: claimed for as long as the train is at risk (`bridge.core.line.proofs`) and the proof is not there; a proof lost with
its board under a train follows from that loss.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import doubted, weakened
from bridge.core.ledger import Claim

if TYPE_CHECKING:
    from bridge.core.facts import Risk
    from bridge.core.state import State


def not_proved(state: State, detector: str) -> list[Claim]:
    """Every train at risk by this proof."""
    return [_claim(state, detector, train, risk) for train, risk in state.risks.get(detector, {}).items() if risk.unproved]


def _claim(state: State, detector: str, train: str, risk: Risk) -> Claim:
    railway, found = state.railway, risk.unproved
    assert railway is not None and found is not None
    guards = railway.plant.detectors[detector].guards or ""
    kind = "section" if guards in railway.plant.sections else "road" if guards in railway.plant.roads else "throat"
    where = f"{train} is in {guards}" if risk.inside else f"{train} is leaving for {guards}"
    stop = f"Stop {train} now" if risk.inside else f"Stop {train} now, short of {guards}"
    unknown = "" if found.why is None else f": what it says is unknown ({found.why})"
    return Claim(
        "not-proved",
        found.cause,
        {"section": None, "road": None, "throat": None, kind: guards, "train": train, "detector": detector},
        f"{where}, which {detector} does not prove{unknown}." + weakened(state, (detector,)),
        f"{stop}. Look whether all is closed and locked there; nothing moves on until it is.",
        because=(*found.because, *doubted(state, (detector,))),
        evidence=found.evidence,
        follows=found.follows,
        happened=found.happened,
    )
