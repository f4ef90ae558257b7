"""Where a crew can go wrong: what it believes and decides, handed through before it acts on it.

Rule: whoever goes wrong nowhere is a plain `Mishap`; nobody goes wrong unless it was chosen (`mistakes.py`).
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import Any, TypeVar

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.lists import Job

Result = TypeVar("Result")
Acts = Generator[o.Order, Any, Result]
"""What a crew does of its own; an order that could not be done is answered with a `Refusal`."""


class Mishap:
    """A crew that goes wrong nowhere; each mistake says otherwise where it is made."""

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """The jobs that it believes it has at a call."""
        return jobs

    def room_mm(self, road: str, room_mm: float) -> float:
        """How much it believes a road to hold."""
        return room_mm

    def hangs_out_mm(self, road: str, group: Sequence[str]) -> float:
        """How far it lets hang out of a road what it leaves there; 0 where it sets it clear."""
        return 0.0

    def calls(self, working: Working, call: Call) -> Acts[None]:
        """What it does before the work of a call."""
        yield from ()

    def departs_s(self, working: Working, call: Call) -> float | None:
        """When it believes it is to depart, seconds of the session clock."""
        return call.depart_s

    def waits_for(self, working: Working, call: Call) -> Sequence[str]:
        """The workings for which it waits at a call."""
        return call.wait_for

    def next_road(self, working: Working, call: Call, road: str | None) -> str | None:
        """The road on which it goes in at a call; None while it waits for one."""
        return road

    def takes_token(self, working: Working, call: Call, section: str) -> bool:
        """Whether it gets the authority for the section that it is about to enter."""
        return True

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """As it sets off from a call; whether it has gone there in its own way."""
        yield from ()
        return False

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """Once it has come to a call, the section still its own."""
        yield from ()

    def lays_token(self, working: Working, call: Call, section: str) -> bool:
        """Whether it gives the authority back at the call that it has come to."""
        return True

    def ended(self, working: Working) -> str:
        """What is to be said of it once a working is over; empty where nothing."""
        return ""
