"""Roads at stations: arrivals on a road not booked, booked roads that are taken, and roads that hold more than they can.

Rule: length on a road is the sum of lengths over buffers, nothing between; trains do not count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import doubted, telling_of, weakened
from bridge.core.ledger import Claim
from bridge.core.places import wording
from bridge.core.readings import called

if TYPE_CHECKING:
    from bridge.core.state import State


def wrong_road(state: State, train_id: str) -> list[Claim]:
    """The train's last arrival, where it was on another road than booked."""
    train = state.roster.trains.get(train_id)
    if train is None or train.wrong_road is None or not train.is_road_sure:
        return []
    road, stood, evidence = train.wrong_road
    call = train.this_call()
    booked = call.road if call is not None else "its booked road"
    seen_by = telling_of(state, road)
    reason = f" On {booked} stood {', '.join(called(state, v) for v in stood)}." if stood else ""
    return [
        Claim(
            "wrong-road",
            f"wrong-road:{train.id}:{train.arrivals}",
            {"train": train.id, "road": road},
            f"{train.id} has come in on {road}; {booked} was booked.{reason}" + weakened(state, seen_by),
            f"Tell the crew where the moves booked for {booked} are to be made, and keep {road} free of others.",
            because=(*stood, *doubted(state, seen_by)),
            evidence=evidence,
        )
    ]


def blocked(state: State, key: str) -> list[Claim]:
    """A booked road on which, or before which, something is in the way of one train."""
    found = state.blocked.get(key)
    if found is None or not found.cause:
        return []
    parts = []
    if found.vehicles:
        names = ", ".join(called(state, v) for v in found.vehicles)
        verb = "is" if len(found.vehicles) == 1 else "are"
        parts.append(f"{names} {verb} in the way of {found.train} on {found.road}, where it is booked to come in")
    if found.detectors:
        parts.append(f"something stands in {found.throat}, by which {found.train} is to come to {found.road}")
    text = "; ".join(parts)
    do = f"Have {found.road} cleared before {found.train} comes, or book it on another road."
    if found.level != "note":
        do = f"Hold {found.train} outside until {found.road} is clear, or let it in on another road."
    return [
        Claim(
            "road-blocked",
            found.cause,
            {"train": found.train, "road": found.road},
            f"{text[0].upper() if not found.vehicles else text[0]}{text[1:]}." + weakened(state, found.detectors),
            do,
            because=(*found.vehicles, *found.detectors),
            evidence=found.evidence,
            level="note" if found.level == "note" else None,
        )
    ]


def overfull(state: State, road: str) -> list[Claim]:
    """A road that holds, or will hold, more than its usable length."""
    found = state.overfull.get(road)
    railway = state.railway
    if found is None or railway is None:
        return []
    vehicles, stands_mm, due, fouls, evidence = found
    length_mm = railway.plant.roads[road].length_mm
    over_mm = stands_mm - length_mm
    seen_by: tuple[str, ...] = ()
    if due and state.where is not None and all(state.where.place(v) == road for v in vehicles):
        names = ", ".join(called(state, v) for v in vehicles)
        seen_by = telling_of(state, road)
        is_plain = all(wording(state.where.belief(v).sure) == "plain" for v in vehicles)
        text = (
            f"{road} is {'' if is_plain else 'probably '}too full by {over_mm:.0f} mm: {names} stand on {length_mm:.0f} mm."
        )
        text += weakened(state, seen_by)
        do = f"Take a vehicle away, or keep trains off what it fouls: {', '.join(fouls)}."
    else:
        text = f"{road} will be too full by {over_mm:.0f} mm when the booked moves are done."
        do = f"Leave a vehicle elsewhere, or lift one from {road} first."
    return [
        Claim(
            "overfull-road",
            f"overfull:{road}",
            {"road": road, "fouls": list(fouls)},
            text,
            do,
            because=(*vehicles, *doubted(state, seen_by)),
            evidence=evidence,
            level=None if due else "note",
        )
    ]
