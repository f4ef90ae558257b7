"""Departures before their time, or before the trains for which they were to wait.

Rule: judged when a train has departed (`bridge.core.early`); where it met another train in the section by it, it follows
from that clash.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim

if TYPE_CHECKING:
    from bridge.core.state import State


def early(state: State, train: str) -> list[Claim]:
    """What a train's last departure was too early for."""
    found = state.early.get(train)
    if found is None:
        return []
    awaited = " and ".join(found.missing)
    parts = [f"{_minutes(found.sooner_s)} before its time"] if found.sooner_s else []
    parts += [f"before {awaited} has come in, for which it was to wait"] if found.missing else []
    against = f"that {awaited} does not come against it" if found.missing else "that nothing comes against it"
    return [
        Claim(
            "early-departure",
            found.cause,
            {"train": train},
            f"{train} has left {found.station} {', and '.join(parts)}." + (" Evidence weak." if found.because else ""),
            f"Make sure {against}; if you are not, stop {train} and set it back.",
            because=found.because,
            evidence=found.evidence,
            follows=found.follows,
            happened=found.happened,
        )
    ]


def _minutes(seconds: int) -> str:
    minutes = seconds // 60
    return f"{seconds} s" if minutes < 1 else "1 minute" if minutes == 1 else f"{minutes} minutes"
