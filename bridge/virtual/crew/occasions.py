"""Where a plan gives a crew the occasion for each mistake: which working at which of its calls, and what it touches there.

Rule: an occasion is one that the railway's detectors can tell of; those that disturb the other trains least are the likely
ones, from which the seed chooses.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Detector, Plant, Section


@dataclass(frozen=True, slots=True)
class Occasion:
    """A working at its call of this index, and the ids of what it touches: vehicle, road, section, detector, train."""

    working: str
    call: int
    station: str
    things: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """Whatever it can be named by."""
        return (*self.things, self.working, self.station)


@dataclass(frozen=True, slots=True)
class Leg:
    """From one call of a working to the next: the section, and the throats by which it leaves and comes in."""

    working: Working
    call: Call
    then: Call
    section: Section
    out: str
    into: str


Found = tuple[list[Occasion], list[Occasion]]


def legs(railway: Railway) -> Iterator[Leg]:
    """All booked runs."""
    for working in railway.workings.values():
        for call in working.calls[:-1]:
            leg = leg_of(railway, working, call)
            if leg is not None:
                yield leg


def leg_of(railway: Railway, working: Working, call: Call) -> Leg | None:
    """The run from a call; None from the last, or where no section leads on."""
    if call.index + 1 >= len(working.calls):
        return None
    plant, then = railway.plant, working.calls[call.index + 1]
    section = plant.section_between(call.station, then.station)
    if section is None:
        return None
    throats = section.throats
    out, into = throats if plant.throats[throats[0]].station == call.station else throats[::-1]
    return Leg(working, call, then, section, out, into)


def at_mouth(plant: Plant, section: str, throat: str) -> tuple[Detector, ...]:
    """The treadles and readers where a section meets a throat."""
    ids = [boundary.id for boundary in plant.at_stretch[section] if boundary.throat == throat]
    return tuple(detector for boundary in ids for detector in plant.standing_at.get(boundary, ()))


def tells_of_entry(plant: Plant, leg: Leg) -> bool:
    """Whether a detector tells that a train is out in its section."""
    return bool(plant.covering.get(leg.section.id) or at_mouth(plant, leg.section.id, leg.out))


def at_leg(leg: Leg, *things: str) -> Occasion:
    """The occasion of leaving on a run."""
    return Occasion(leg.working.id, leg.call.index, leg.call.station, things)
