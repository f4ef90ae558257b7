"""Vehicles that nobody can tell where they are, and wagons that a hand has moved.

Rule: what is said is where to look, the likeliest place first; it ends when the vehicle has been seen or looked at, or when
one place has become clearly likelier than the others.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim
from bridge.core.readings import called
from bridge.core.wagons.missing import beside
from bridge.core.whereabouts import OFF

if TYPE_CHECKING:
    from bridge.core.state import State


def lost(state: State, vehicle: str) -> list[Claim]:
    """A vehicle that cannot be placed well enough."""
    found = state.lost.get(vehicle)
    if found is None:
        return []
    first, *others = ["beside the layout" if place == OFF else f"on {place}" for place in found.places]
    look = f"{first}, then {', '.join(others)}" if others else first
    doubts = [doubt.cause for rows in state.doubts.values() for doubt in rows if doubt.vehicle == vehicle]
    before = state.lost[beside(state, found)[0]].cause
    causes = doubts + ([before] if before != found.cause else [])  # one look there tells of both
    return [
        Claim(
            "wagon-lost",
            found.cause,
            {"vehicle": vehicle},
            f"No place of {called(state, vehicle)} is likely enough. Look first {look}.",
            f"Look {look}, and tell where it stands: stands {vehicle} PLACE.",
            evidence=found.evidence,
            follows=next(iter(causes), None),
        )
    ]


def by_hand(state: State, vehicle: str) -> list[Claim]:
    """A wagon that a hand must have moved."""
    found = state.by_hand.get(vehicle)
    if found is None:
        return []
    name = called(state, vehicle)
    text = f"{name} was read at {found.place}; it stood on {found.home}, where no engine has been since. "
    do = f"Look whether that is {name}, and note where it is left; if it stands elsewhere, tell: stands {vehicle} PLACE."
    if found.unread is None:
        text += "A hand has moved it, or it never stood there."
    else:
        other = called(state, found.unread)
        text += f"{other} was to be read there and was not: their tags may be exchanged, or a hand has moved them."
        do += f" If that is {other}, give each the other's tag: tag TAG {vehicle}, tag TAG {found.unread}."
    return [
        Claim(
            "wagon-unbooked",
            found.cause,
            {"vehicle": vehicle},
            text,
            do,
            because=() if found.unread is None else (found.unread,),
            evidence=found.evidence,
        )
    ]
