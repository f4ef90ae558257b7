"""Early warnings: trains that will meet in a section, and trains that wait for each other.

Rule: claimed for as long as it is foreseen (`bridge.core.advice.foreseen`); the times told are those of the first time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.clock import clock_text
from bridge.core.ledger import Claim

if TYPE_CHECKING:
    from bridge.core.state import State


def meeting(state: State, train: str) -> list[Claim]:
    """A train that will meet another, if it leaves at its time."""
    found, railway = state.meetings.get(train), state.railway
    if found is None or railway is None:
        return []
    station = railway.plant.stations[found.station].name
    otherwise = "" if found.is_in else f"; or let it go first, and hold {found.other} for it"
    left = max(0, round((found.leaves_s - found.seen_s) / 60))
    minutes = "now" if not left else f"in {left} minute{'' if left == 1 else 's'}"
    return [
        Claim(
            "clash-ahead",
            found.cause,
            {"section": found.section, "trains": sorted((train, found.other))},
            f"{train} and {found.other} will meet in {found.section}: {found.other} is booked through it first, and at its "
            f"present running is clear at {clock_text(found.clears_s)[:5]}; {train} is to leave {station} {minutes}, at "
            f"{clock_text(found.leaves_s)[:5]}.",
            f"Hold {train} at {station} until {found.other} has come in and {found.section} is clear{otherwise}.",
            evidence=found.evidence,
        )
    ]


def deadlock(state: State, key: str) -> list[Claim]:
    """Trains that wait for each other."""
    found = state.circles.get(key)
    if found is None:
        return []
    pairs = zip(found.trains, (*found.trains[1:], found.trains[0]), strict=True)
    chain = ", ".join(f"{one} for {then}" for one, then in pairs)
    return [
        Claim(
            "deadlock",
            found.cause,
            {"trains": sorted(found.trains)},
            f"{' and '.join(sorted(found.trains))} wait for each other: {chain}.",
            found.way_out,
        )
    ]
