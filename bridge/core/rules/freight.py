"""Freight gone wrong: set-outs forgotten, lifts missed, wagons left in the wrong place.

Rule: judged when a train departs or ends, at the last call that could have done the move, and said once it has surely gone;
of several kinds that one mistake could raise for one vehicle, only the first cause stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.irregularities import KINDS
from bridge.core.ledger import Claim
from bridge.core.readings import called

if TYPE_CHECKING:
    from bridge.core.facts import Doubt
    from bridge.core.state import State

TEXTS = {
    "wagon-unbooked": (
        "{train} has moved {vehicle}, which neither a move nor a rake names: last known on {road}.",
        "Ask the crew of {train} why. Note where {vehicle} is left, or have it taken back to where it stood.",
    ),
    "set-out-forgotten": (
        "{train} has left with {vehicle}, which was to stay on {road}.",
        "Stop {train} if you can and set {vehicle} back; else note where it goes, and book it home.",
    ),
    "lift-missed": (
        "{train} has left without {vehicle}, which it was to lift from {road}.",
        "Fetch {vehicle} with another train, or carry the move over to next time.",
    ),
    "wagon-misplaced": (
        "{vehicle} was left on {road}, where it is not booked.",
        "Look at {road}. Take {vehicle} where it belongs with the next train, or tell where it is to stay.",
    ),
}


def claims(state: State, train: str) -> list[Claim]:
    """What a train's last departure, or its end, has shown."""
    return [_claim(state, doubt) for doubt in state.doubts.get(train, ())]


def _claim(state: State, doubt: Doubt) -> Claim:
    text, do = TEXTS[doubt.kind]
    words = {"train": doubt.train, "vehicle": called(state, doubt.vehicle), "road": doubt.road}
    subject = {"vehicle": doubt.vehicle, "road": doubt.road, "train": doubt.train}
    keys = {key: value for key, value in subject.items() if key in KINDS[doubt.kind].keys}
    return Claim(
        doubt.kind,
        doubt.cause,
        keys,
        text.format(**words) + (" Evidence weak." if doubt.because else ""),
        do.format(**words),
        because=doubt.because,
        evidence=doubt.evidence,
        happened=doubt.happened,
    )
