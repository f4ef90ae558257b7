"""The rules: what is true of the state, as claims. One concern a file; no rule knows another.

Rule: a rule reads the state and returns the claims that hold for one subject now; it changes nothing and says nothing. It
is asked only when a fact that it reads has been touched.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.ledger import Claim
from bridge.core.rules import (
    departures,
    detection,
    detectors,
    foreseen,
    freight,
    loose,
    proofs,
    sections,
    stations,
    vehicles,
)

if TYPE_CHECKING:
    from bridge.core.state import State


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule by name: which facts wake it, and what it claims of a subject."""

    name: str
    fact: str
    claims: Callable[[State, str], list[Claim]]


RULES: tuple[Rule, ...] = (
    Rule("sections", "section", sections.claims),
    Rule("divided", "section", loose.divided),
    Rule("astray", "astray", loose.astray),
    Rule("stations", "train", stations.wrong_road),
    Rule("blocked", "blocked", stations.blocked),
    Rule("departures", "train", departures.early),
    Rule("overdue", "train", departures.overdue),
    Rule("meetings", "meeting", foreseen.meeting),
    Rule("circles", "circle", foreseen.deadlock),
    Rule("proofs", "proof", proofs.not_proved),
    Rule("overfull", "road", stations.overfull),
    Rule("freight", "freight", freight.claims),
    Rule("boards", "board", detection.boards),
    Rule("tags", "tag", detection.tags),
    Rule("readers", "reader", detection.readers),
    Rule("noisy", "detector", detectors.noisy),
    Rule("stuck", "detector", detectors.stuck),
    Rule("contradicted", "detector", detectors.contradicted),
    Rule("by-hand", "by-hand", vehicles.by_hand),
    Rule("lost", "vehicle", vehicles.lost),
)
