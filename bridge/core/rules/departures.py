"""Departures before their time, or before the trains for which they were to wait, and trains that do not come.

Rule: a departure is judged when a train has departed (`bridge.core.movement.early`), and said once that train has surely
gone (`bridge.core.movement.gone`); where it met another train in the section by it, it follows from that clash.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim
from bridge.core.movement.overdue import unseen
from bridge.core.readings import limit

if TYPE_CHECKING:
    from bridge.core.state import State


def early(state: State, train: str) -> list[Claim]:
    """What a train's last departure was too early for."""
    found = state.early.get(train)
    if found is None or not state.roster.trains[train].is_gone:
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


def overdue(state: State, train_id: str) -> list[Claim]:
    """A train that is on its way for too long."""
    found, train, railway = state.overdue.get(train_id), state.roster.trains.get(train_id), state.railway
    presence = None if train is None else unseen(state, train)
    if found is None or train is None or railway is None or presence is None or not found.cause.endswith(presence.cause):
        return []
    here, then = train.this_call(), train.next_call()
    if here is None or then is None:
        return []
    stations, after_s = railway.plant.stations, found.booked_s * limit(state, "overdue_factor", 1.5)
    return [
        Claim(
            "overdue",
            found.cause,
            {"train": train_id},
            f"{train_id} has not been seen at {stations[then.station].name}, {_minutes(round(after_s))} after it left "
            f"{stations[here.station].name}; {_minutes(round(found.booked_s))} are booked."
            + (" Evidence weak." if found.because else ""),
            f"Ask its crew where it is. If it has come in, tell: arrive {train_id} {then.road}. Until then keep others out "
            f"of {presence.section}.",
            because=found.because,
            evidence=found.evidence,
        )
    ]


def _minutes(seconds: int) -> str:
    minutes = seconds // 60
    return f"{seconds} s" if minutes < 1 else "1 minute" if minutes == 1 else f"{minutes} minutes"
